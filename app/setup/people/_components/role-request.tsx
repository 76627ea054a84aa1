import { formatMoment } from "@/lib/format/date-text";
import type { RoleRequested } from "@/lib/server/people/role-requests";
import { SectionHeading } from "@/lib/ui/page-frame";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
import { decideRoleRequestAction } from "../actions";
import { PEOPLE_WORDS } from "../../words/people";
import styles from "../people.module.css";
import { rolesWords } from "../../../_components/role-words";

const words = PEOPLE_WORDS.request;

const PASSWORD: EntryField = {
  name: "password",
  label: words.yourPasswordAsSignature,
  kind: "password",
  autoComplete: "current-password",
};

const listed = (roles: RoleRequested["roles"]): string => rolesWords(roles) || "none";

/** A change of own roles that stands: another administrator confirms or refuses it; who asked may take it back. */
export function RoleRequest({
  request,
  isOwn,
  zone,
}: Readonly<{ request: RoleRequested; isOwn: boolean; zone: string }>) {
  const hidden = (decision: "confirm" | "refuse"): EntryField[] => [
    { name: "id", label: "", kind: "hidden", value: request.id },
    { name: "decision", label: "", kind: "hidden", value: decision },
  ];
  return (
    <section>
      <SectionHeading aside={words.askedFor(formatMoment(request.requestedAt, { zone }))}>
        {isOwn ? words.yourChangeOfRolesWaits : words.asksForOtherRoles(request.name)}
      </SectionHeading>
      <p className={styles.said}>
        {words.fromTo(
          listed(request.before),
          listed(request.roles),
          isOwn ? words.anotherAdministratorHasToConfirm : words.askPersonBeforeYouConfirm,
        )}
      </p>
      {isOwn ? null : (
        <EntryForm
          kind="go"
          fields={[...hidden("confirm"), PASSWORD]}
          action={decideRoleRequestAction}
          submit={words.confirmChange}
          done={words.confirmedAndRecordedInJournal}
        />
      )}
      <EntryForm
        fields={[...hidden("refuse"), PASSWORD]}
        action={decideRoleRequestAction}
        submit={isOwn ? words.takeBack : words.refuseChange}
        done={isOwn ? words.takenBack : words.refusedAndRecordedInJournal}
      />
    </section>
  );
}
