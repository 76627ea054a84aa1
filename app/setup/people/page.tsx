import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listPeople } from "@/lib/server/people/queries";
import { listRoleRequests } from "@/lib/server/people/role-requests";
import { listTokens } from "@/lib/server/tokens/queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { PartLink } from "../_components/part-link";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { RevokeForm, TokenForm } from "./_components/people-forms";
import { rolesWords } from "../../_components/role-words";
import { roleField } from "./_components/role-field";
import { createPersonAction } from "./actions";
import styles from "./people.module.css";

export const metadata: Metadata = { title: "People and tokens" };

const gone = (active: boolean): string | false => !active && "not active";

export default async function PeoplePage() {
  const viewer = await requireViewer("/setup/people", "people.view");
  const { plantZone: zone } = viewer;
  const [people, tokens, requests] = await Promise.all([
    listPeople(viewer),
    listTokens(viewer),
    listRoleRequests(viewer),
  ]);
  const managesPeople = mayDo(viewer, "people.manage");
  const managesTokens = mayDo(viewer, "tokens.manage");
  const day = (time: Date | null) => (time === null ? "" : formatDay(time, { zone }));
  return (
    <SetupPage
      viewer={viewer}
      current="people"
      title="Who may do what"
      lead="A badge identifies the inspector; it cannot sign. A token is for a program; it is stored as a hash only."
    >
      <div className={styles.columns}>
        <section>
          <SectionHeading>People</SectionHeading>
          {requests.map(({ id, personId, name }) => (
            <p key={id} className={styles.said}>
              <Link href={`/setup/people/${personId}`}>{name} asks for other roles</Link>: another administrator has to
              confirm it.
            </p>
          ))}
          <DataTable
            caption="People of the plant"
            captionHidden
            rowHead="name"
            columns={[
              {
                key: "name",
                label: "name",
                cell: (person) =>
                  managesPeople ? (
                    <PartLink
                      href="/setup/people"
                      part={person.personId}
                      name={person.name}
                      out={gone(person.active)}
                    />
                  ) : (
                    <>
                      {person.name} <small className={parts.out}>{gone(person.active)}</small>
                    </>
                  ),
              },
              { key: "roles", label: "roles", cell: (person) => rolesWords(person.roles) },
              { key: "email", label: "signs in as", cell: (person) => person.email ?? "" },
              { key: "badge", label: "badge", kind: "code", cell: (person) => person.badgeCode ?? "" },
            ]}
            rows={people}
            rowKey={(person) => person.personId}
          />
          {managesPeople ? (
            <div className={parts.section}>
              <SectionHeading>Add a person</SectionHeading>
              <EntryForm
                kind="go"
                fields={[
                  { name: "name", label: "name" },
                  roleField([]),
                  { name: "badgeCode", label: "badge code, if they measure", kind: "code", optional: true },
                  { name: "email", label: "e-mail, if they sign in", kind: "email", optional: true },
                  {
                    name: "password",
                    label: "first password, 12 characters or more",
                    kind: "password",
                    optional: true,
                    autoComplete: "new-password",
                  },
                ]}
                action={createPersonAction}
                submit="Add this person"
                done="Added, and recorded in the journal."
              />
            </div>
          ) : null}
        </section>
        <section>
          <SectionHeading>API tokens</SectionHeading>
          <DataTable
            caption="API tokens"
            captionHidden
            rowHead="name"
            columns={[
              { key: "name", label: "for", cell: (token) => token.name },
              { key: "prefix", label: "begins with", kind: "code", cell: (token) => token.prefix },
              { key: "scopes", label: "scopes", kind: "code", cell: (token) => token.scopes.join(" ") },
              { key: "used", label: "last used", cell: (token) => day(token.lastUsedAt) },
              {
                key: "do",
                label: "change",
                cell: (token) =>
                  token.revokedAt !== null ? (
                    `revoked ${day(token.revokedAt)}`
                  ) : managesTokens ? (
                    <RevokeForm tokenId={token.tokenId} name={token.name} />
                  ) : null,
              },
            ]}
            rows={tokens}
            rowKey={(token) => token.tokenId}
            empty={
              <EmptyState title="No token yet">A program that sends readings or asks the gate needs one.</EmptyState>
            }
          />
          {managesTokens ? (
            <>
              <SectionHeading>Make a token</SectionHeading>
              <TokenForm />
            </>
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
