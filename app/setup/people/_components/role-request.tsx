import { formatMoment } from "@/lib/format/date-text";
import type { RoleRequested } from "@/lib/server/people/role-requests";
import { SectionHeading } from "@/lib/ui/page-frame";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
import { decideRoleRequestAction } from "../actions";
import styles from "../people.module.css";
import { rolesWords } from "../../../_components/role-words";

const PASSWORD: EntryField = {
  name: "password",
  label: "your password, as signature",
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
      <SectionHeading aside={`asked for ${formatMoment(request.requestedAt, { zone })}`}>
        {isOwn ? "Your change of roles waits" : `${request.name} asks for other roles`}
      </SectionHeading>
      <p className={styles.said}>
        From {listed(request.before)} to {listed(request.roles)}.{" "}
        {isOwn ? "Another administrator has to confirm it." : "Ask the person before you confirm it."}
      </p>
      {isOwn ? null : (
        <EntryForm
          kind="go"
          fields={[...hidden("confirm"), PASSWORD]}
          action={decideRoleRequestAction}
          submit="Confirm the change"
          done="Confirmed, and recorded in the journal."
        />
      )}
      <EntryForm
        fields={[...hidden("refuse"), PASSWORD]}
        action={decideRoleRequestAction}
        submit={isOwn ? "Take it back" : "Refuse the change"}
        done={isOwn ? "Taken back." : "Refused, and recorded in the journal."}
      />
    </section>
  );
}
