import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { listPeople, type PersonListed } from "@/lib/server/people/queries";
import { listRoleRequests } from "@/lib/server/people/role-requests";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../../_components/work-page";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
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

export const metadata: Metadata = { title: "Person" };

const SURE: EntryField = {
  name: "sure",
  label: "for good",
  kind: "checks",
  options: [{ value: "yes", label: "they have left" }],
  hint: "Sign-in and badge end at once and do not come back; what they recorded stays under their name.",
};
const MIN_LENGTH = "12 characters or more";

const OWN_PASSWORD: EntryField = {
  name: "password",
  label: "your password",
  kind: "password",
  hint: "Your own roles: where there is another administrator, that one has to confirm the change.",
  autoComplete: "current-password",
};

/** Asked for where somebody changes what stands under their own signature. */
const SIGNATURE: EntryField = {
  name: "password",
  label: "your password, as signature",
  kind: "password",
  autoComplete: "current-password",
};

function Name({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  const email: EntryField[] =
    person.email === null
      ? []
      : [{ name: "email", label: "e-mail, to sign in with", kind: "email", value: person.email }];
  return (
    <section>
      <SectionHeading aside="records made before keep the old name">
        {person.email === null ? "Name" : "Name and e-mail"}
      </SectionHeading>
      <EntryForm
        keep
        fields={[
          id,
          { name: "name", label: "name", kind: "text", value: person.name },
          ...email,
          ...(isOwn ? [SIGNATURE] : []),
        ]}
        action={correctPersonAction}
        submit={person.email === null ? "Correct the name" : "Correct name and e-mail"}
        done="Corrected."
      />
    </section>
  );
}

function Roles({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  return (
    <section>
      <SectionHeading aside="from the next request on">Roles</SectionHeading>
      <EntryForm
        keep
        fields={[id, roleField(person.roles), ...(isOwn ? [OWN_PASSWORD] : [])]}
        action={changeRolesAction}
        submit="Change the roles"
        done="Changed."
      />
    </section>
  );
}

function Badge({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  return (
    <section>
      <SectionHeading aside="identifies the inspector; it cannot sign">Badge</SectionHeading>
      <EntryForm
        keep
        fields={[
          id,
          {
            name: "badgeCode",
            label: "badge code",
            kind: "code",
            optional: true,
            hint: "empty: no badge any more",
            value: person.badgeCode ?? "",
          },
          ...(isOwn ? [SIGNATURE] : []),
        ]}
        action={changeBadgeAction}
        submit="Change the badge"
        done="Changed."
      />
    </section>
  );
}

function SignIn({ person, id, isOwn }: Readonly<{ person: PersonListed; id: EntryField; isOwn: boolean }>) {
  if (isOwn)
    return (
      <section>
        <SectionHeading>Sign-in</SectionHeading>
        <p>
          Your own password is changed under <Link href="/setup/password">My password</Link>, with the current one.
        </p>
      </section>
    );
  if (person.email === null)
    return (
      <section>
        <SectionHeading aside="none yet">Sign-in</SectionHeading>
        <EntryForm
          fields={[
            id,
            { name: "email", label: "e-mail", kind: "email" },
            {
              name: "password",
              label: "first password",
              kind: "password",
              hint: MIN_LENGTH,
              autoComplete: "new-password",
            },
          ]}
          action={giveSignInAction}
          submit="Give a sign-in"
          done="Given."
        />
      </section>
    );
  return (
    <section>
      <SectionHeading aside={person.email}>Sign-in</SectionHeading>
      <EntryForm
        fields={[
          id,
          {
            name: "newPassword",
            label: "a new password, if they forgot theirs",
            kind: "password",
            hint: `${MIN_LENGTH}; all their sessions end`,
            autoComplete: "new-password",
          },
        ]}
        action={setPasswordAction}
        submit="Set the password"
        done="Set. Tell the person; they can change it under My password."
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
      status={<Link href="/setup/people">All people</Link>}
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
              <SectionHeading>End their access</SectionHeading>
              <EntryForm
                fields={[personId, SURE]}
                action={deactivatePersonAction}
                submit={`Deactivate ${person.name}`}
                done="Deactivated: sign-in and badge do not work any more; what they recorded stays."
              />
            </section>
          )}
        </div>
      ) : (
        <EmptyState title={`${person.name} is not active`}>
          Sign-in and badge do not work any more; what they recorded stays under their name.
        </EmptyState>
      )}
    </SetupPage>
  );
}
