import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { listPeople, type PersonListed } from "@/lib/server/people/queries";
import { listRoleRequests } from "@/lib/server/people/role-requests";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../../_components/work-page";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
import { PEOPLE_WORDS } from "../../words/people";
import parts from "../../_components/parts.module.css";
import { SetupPage } from "../../_components/setup-page";
import { roleField } from "../_components/role-field";
import { RoleRequest } from "../_components/role-request";
import {
  changeBadgeAction,
  changeRolesAction,
  correctPersonAction,
  deactivatePersonAction,
  giveSignInAction,
  setPasswordAction,
} from "../actions";

const words = PEOPLE_WORDS.person;

export const metadata: Metadata = { title: words.person };

const SURE: EntryField = {
  name: "sure",
  label: words.forGood,
  kind: "checks",
  options: [{ value: "yes", label: words.theyHaveLeft }],
  hint: words.signInAndBadgeEnd,
};
const MIN_LENGTH = words.passwordLength;

const OWN_PASSWORD: EntryField = {
  name: "password",
  label: words.yourPassword,
  kind: "password",
  hint: words.yourOwnRoles,
  autoComplete: "current-password",
};

/** Asked for where somebody changes what stands under their own signature. */
const SIGNATURE: EntryField = {
  name: "password",
  label: words.yourPasswordAsSignature,
  kind: "password",
  autoComplete: "current-password",
};

function Name({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  const email: EntryField[] =
    person.email === null ? [] : [{ name: "email", label: words.eMail, kind: "email", value: person.email }];
  return (
    <section>
      <SectionHeading aside={words.recordsMadeBeforeKeepOld}>
        {person.email === null ? words.name : words.nameAndEMail}
      </SectionHeading>
      <EntryForm
        keep
        fields={[
          id,
          { name: "name", label: words.nameLabel, kind: "text", value: person.name },
          ...email,
          ...(isOwn ? [SIGNATURE] : []),
        ]}
        action={correctPersonAction}
        submit={person.email === null ? words.correctName : words.correctNameAndEMail}
        done={words.corrected}
      />
    </section>
  );
}

function Roles({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  return (
    <section>
      <SectionHeading aside={words.fromNextRequestOn}>{words.roles}</SectionHeading>
      <EntryForm
        keep
        fields={[id, roleField(person.roles), ...(isOwn ? [OWN_PASSWORD] : [])]}
        action={changeRolesAction}
        submit={words.changeRoles}
        done={words.changed}
      />
    </section>
  );
}

function Badge({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  return (
    <section>
      <SectionHeading aside={words.identifiesInspector}>{words.badge}</SectionHeading>
      <EntryForm
        keep
        fields={[
          id,
          {
            name: "badgeCode",
            label: words.badgeCode,
            kind: "code",
            optional: true,
            hint: words.emptyNoBadgeAnyMore,
            value: person.badgeCode ?? "",
          },
          ...(isOwn ? [SIGNATURE] : []),
        ]}
        action={changeBadgeAction}
        submit={words.changeBadge}
        done={words.changed}
      />
    </section>
  );
}

function SignIn({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  if (isOwn)
    return (
      <section>
        <SectionHeading>{words.signIn}</SectionHeading>
        <p>{words.yourOwnPasswordIsChanged(<Link href="/setup/password">{words.myPassword}</Link>)}</p>
      </section>
    );
  if (person.email === null)
    return (
      <section>
        <SectionHeading aside={words.noneYet}>{words.signIn}</SectionHeading>
        <EntryForm
          fields={[
            id,
            { name: "email", label: words.eMailLabel, kind: "email" },
            {
              name: "password",
              label: words.firstPassword,
              kind: "password",
              hint: MIN_LENGTH,
              autoComplete: "new-password",
            },
          ]}
          action={giveSignInAction}
          submit={words.giveSignIn}
          done={words.given}
        />
      </section>
    );
  return (
    <section>
      <SectionHeading aside={person.email}>{words.signIn}</SectionHeading>
      <EntryForm
        fields={[
          id,
          {
            name: "newPassword",
            label: words.newPassword,
            kind: "password",
            hint: words.allTheirSessionsEnd(MIN_LENGTH),
            autoComplete: "new-password",
          },
        ]}
        action={setPasswordAction}
        submit={words.setPassword}
        done={words.setTellPersonThey}
      />
    </section>
  );
}

export default async function PersonPage({ params }: PageProps<"/setup/people/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/people/${id}`, "people.manage");
  const { plantZone: zone } = viewer;
  const [people, allRequests] = await Promise.all([listPeople(viewer), listRoleRequests(viewer)]);
  const person = people.find((one) => one.personId === id);
  const requests = allRequests.filter((one) => one.personId === id);
  if (!person) notFound();
  const isOwn = viewer.personId === id;
  const personId: EntryField = { name: "personId", label: "", kind: "hidden", value: id };
  return (
    <SetupPage
      viewer={viewer}
      current="people"
      title={person.name}
      status={<Link href="/setup/people">{words.allPeople}</Link>}
    >
      {person.active ? (
        <div className={parts.parts}>
          <Name person={person} id={personId} isOwn={isOwn} />
          <Roles person={person} id={personId} isOwn={isOwn} />
          {requests.map((request) => (
            <RoleRequest key={request.id} request={request} isOwn={isOwn} zone={zone} />
          ))}
          <Badge person={person} id={personId} isOwn={isOwn} />
          <SignIn person={person} id={personId} isOwn={isOwn} />
          {isOwn ? null : (
            <section>
              <SectionHeading>{words.endTheirAccess}</SectionHeading>
              <EntryForm
                fields={[personId, SURE]}
                action={deactivatePersonAction}
                submit={words.deactivate(person.name)}
                done={words.deactivatedSignInAndBadge}
              />
            </section>
          )}
        </div>
      ) : (
        <EmptyState title={words.isNotActive(person.name)}>{words.signInAndBadgeDo}</EmptyState>
      )}
    </SetupPage>
  );
}
