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
import { PEOPLE_WORDS } from "../words/people";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { RevokeForm, TokenForm } from "./_components/people-forms";
import { rolesWords } from "../../_components/role-words";
import { roleField } from "./_components/role-field";
import { createPersonAction } from "./actions";
import styles from "./people.module.css";

const words = PEOPLE_WORDS.people;

export const metadata: Metadata = { title: words.peopleAndTokens };

const gone = (active: boolean): string | false => !active && words.notActive;

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
    <SetupPage viewer={viewer} current="people" title={words.whoMayDoWhat} lead={words.lead}>
      <div className={styles.columns}>
        <section>
          <SectionHeading>{words.people}</SectionHeading>
          {requests.map(({ id, personId, name }) => (
            <p key={id} className={styles.said}>
              {words.anotherAdministratorHasToConfirm(
                <Link href={`/setup/people/${personId}`}>{words.asksForOtherRoles(name)}</Link>,
              )}
            </p>
          ))}
          <DataTable
            caption={words.peopleOfPlant}
            captionHidden
            rowHead="name"
            columns={[
              {
                key: "name",
                label: words.name,
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
              { key: "roles", label: words.roles, cell: (person) => rolesWords(person.roles) },
              { key: "email", label: words.signsInAs, cell: (person) => person.email ?? "" },
              { key: "badge", label: words.badge, kind: "code", cell: (person) => person.badgeCode ?? "" },
            ]}
            rows={people}
            rowKey={(person) => person.personId}
          />
          {managesPeople ? (
            <div className={parts.section}>
              <SectionHeading>{words.addPerson}</SectionHeading>
              <EntryForm
                kind="go"
                fields={[
                  { name: "name", label: words.name },
                  roleField([]),
                  { name: "badgeCode", label: words.badgeCodeIfTheyMeasure, kind: "code", optional: true },
                  { name: "email", label: words.eMail, kind: "email", optional: true },
                  {
                    name: "password",
                    label: words.firstPassword,
                    kind: "password",
                    optional: true,
                    autoComplete: "new-password",
                  },
                ]}
                action={createPersonAction}
                submit={words.addPersonHeading}
                done={words.addedAndRecordedInJournal}
              />
            </div>
          ) : null}
        </section>
        <section>
          <SectionHeading>{words.apiTokens}</SectionHeading>
          <DataTable
            caption={words.apiTokens}
            captionHidden
            rowHead="name"
            columns={[
              { key: "name", label: words.for, cell: (token) => token.name },
              { key: "prefix", label: words.beginsWith, kind: "code", cell: (token) => token.prefix },
              { key: "scopes", label: words.scopes, kind: "code", cell: (token) => token.scopes.join(" ") },
              { key: "used", label: words.lastUsed, cell: (token) => day(token.lastUsedAt) },
              {
                key: "do",
                label: words.change,
                cell: (token) =>
                  token.revokedAt !== null ? (
                    words.revoked(day(token.revokedAt))
                  ) : managesTokens ? (
                    <RevokeForm tokenId={token.tokenId} name={token.name} />
                  ) : null,
              },
            ]}
            rows={tokens}
            rowKey={(token) => token.tokenId}
            empty={<EmptyState title={words.noTokenYet}>{words.programSendsReadingsOrAsks}</EmptyState>}
          />
          {managesTokens ? (
            <>
              <SectionHeading>{words.makeToken}</SectionHeading>
              <TokenForm />
            </>
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
