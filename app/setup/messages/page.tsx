import type { Metadata } from "next";
import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { getSending, type Sending } from "@/lib/server/messages/sending-queries";
import { ROLES } from "@/lib/schemas/people";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { KeyValues } from "@/lib/ui/key-values";
import { SectionHeading } from "@/lib/ui/page-frame";
import { roleWords } from "../../_components/role-words";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import { addSubscriptionAction, changeMailServerAction, changeMessageTimesAction } from "./actions";
import { MailAgain, RemoveMailServer, RemoveSubscription, TryMail, WebhookForm } from "./_components/message-forms";
import {
  EVERY_LINE,
  howWords,
  KIND_OPTIONS,
  kindWords,
  lineOptions,
  whomWords,
} from "./_components/subscription-words";
import { MESSAGE_SETUP_WORDS } from "../words/messages";
import styles from "./sending.module.css";

const texts = MESSAGE_SETUP_WORDS.ways;

export const metadata: Metadata = { title: texts.messages };

const SECURITY_OPTIONS = Object.entries(texts.securityWords).map(([value, label]) => ({ value, label }));

type Part = Readonly<{ sending: Sending; mayManage: boolean }>;

function Subscriptions({ sending, mayManage }: Part) {
  const { subscriptions, people, lines } = sending;
  const rows = subscriptions.map((one, place) => ({ one, place }));
  const lineName = (id: string | null) =>
    id === null ? texts.everyLine : (lines.find((line) => line.id === id)?.name ?? id);
  return (
    <section>
      <SectionHeading aside={subscriptions.some(({ id }) => id !== null) ? undefined : texts.asIsUntilYouChange}>
        {texts.whoIsToldWhat}
      </SectionHeading>
      <DataTable
        caption={texts.whoIsToldWhat}
        captionHidden
        rowHead="whom"
        columns={[
          { key: "whom", label: texts.who, cell: ({ one }) => whomWords(one, people) },
          {
            key: "kinds",
            label: texts.isToldWhen,
            cell: ({ one }) => (
              <ul className={styles.kinds}>
                {kindWords(one.kinds).map((words) => (
                  <li key={words}>{words}</li>
                ))}
              </ul>
            ),
          },
          { key: "line", label: texts.of, cell: ({ one }) => lineName(one.lineId) },
          { key: "how", label: texts.how, cell: ({ one }) => howWords(one) },
          {
            key: "do",
            label: texts.change,
            cell: ({ one, place }) =>
              mayManage ? (
                <RemoveSubscription
                  id={one.id}
                  place={place}
                  what={`${whomWords(one, people)}, ${howWords(one)}, ${kindWords(one.kinds).join(", ")}`}
                />
              ) : null,
          },
        ]}
        rows={rows}
        rowKey={({ one, place }) => one.id ?? String(place)}
        empty={<EmptyState title={texts.nobodyIsToldAnything}>{texts.addWhoIsToKnow}</EmptyState>}
      />
    </section>
  );
}

function AddSubscription({ people, lines }: Sending) {
  const roles = ROLES.map((role) => ({ value: role, label: texts.every(roleWords(role)) }));
  return (
    <section>
      <SectionHeading>{texts.tellSomebodyMore}</SectionHeading>
      <EntryForm
        fields={[
          {
            name: "whom",
            label: texts.who,
            kind: "choice",
            options: [...roles, ...people.map(({ id, name }) => ({ value: id, label: name }))],
          },
          { name: "kinds", label: texts.isToldWhen, kind: "checks", options: KIND_OPTIONS },
          {
            name: "lineId",
            label: texts.ofLine,
            kind: "choice",
            value: EVERY_LINE,
            options: lineOptions(lines),
          },
          {
            name: "how",
            label: texts.how,
            kind: "choice",
            options: [
              { value: "app", label: texts.inListForMe },
              { value: texts.mailAtOnce, label: texts.byMailAtOnce },
              { value: texts.mailShiftStart, label: texts.byMail },
            ],
          },
          {
            name: "quietFrom",
            label: texts.noMailFrom,
            kind: "code",
            optional: true,
            hint: texts.as2200,
          },
          { name: "quietUntil", label: texts.noMailUntil, kind: "code", optional: true },
        ]}
        action={addSubscriptionAction}
        submit={texts.tellThem}
        done={texts.addedAndRecordedInJournal}
      />
    </section>
  );
}

function MailServer({ sending, mayManage }: Part) {
  const { mail } = sending;
  return (
    <section>
      <SectionHeading aside={mail === null ? texts.nothingIsMailed : undefined}>{texts.mailServer}</SectionHeading>
      {mail === null ? (
        <p className={styles.without}>{texts.withoutOneEveryMessage(<Link href="/messages">{texts.forMe}</Link>)}</p>
      ) : (
        <>
          <KeyValues
            pairs={[
              { label: texts.server, value: texts.port(mail.host, mail.port) },
              { label: texts.onWay, value: texts.securityWords[mail.security] },
              { label: texts.user, value: mail.user ?? "none" },
              { label: texts.mailsComeFrom, value: mail.from },
            ]}
          />
          {mayManage ? (
            <>
              <TryMail />
              <RemoveMailServer host={mail.host} />
            </>
          ) : null}
        </>
      )}
      {mayManage ? (
        <EntryForm
          keep
          fields={[
            { name: "host", label: texts.server, kind: "code", value: mail?.host ?? "" },
            { name: "port", label: texts.portLabel, kind: "number", value: String(mail?.port ?? 587) },
            {
              name: "security",
              label: texts.onWay,
              kind: "choice",
              value: mail?.security ?? "starttls",
              options: SECURITY_OPTIONS,
            },
            { name: "user", label: texts.userIfWantsOne, optional: true, value: mail?.user ?? "" },
            {
              name: "password",
              label: texts.password,
              kind: "password",
              optional: true,
              autoComplete: "new-password",
              hint: mail?.hasPassword === true ? texts.emptyOneIsStays : texts.keptEncrypted,
            },
            { name: "from", label: texts.mailsComeFrom, kind: "email", value: mail?.from ?? "" },
          ]}
          action={changeMailServerAction}
          submit={mail === null ? texts.enterMailServer : texts.changeMailServer}
          done={texts.changedAndRecordedInJournal}
        />
      ) : null}
    </section>
  );
}

function Unsent({ sending, mayManage, zone }: Part & Readonly<{ zone: string }>) {
  const { unsent } = sending;
  if (unsent.length === 0) return null;
  return (
    <section className={styles.section}>
      <SectionHeading aside={texts.failedOnesFirst}>{texts.mailsAreNotSent}</SectionHeading>
      <DataTable
        caption={texts.mailsAreNotSent}
        captionHidden
        rowHead="title"
        columns={[
          { key: "title", label: texts.message, cell: ({ title }) => title },
          { key: "to", label: texts.to, cell: ({ person }) => person },
          {
            key: "state",
            label: texts.state,
            cell: ({ state, nextAt, attempts }) =>
              state === "failed" ? texts.givenUpAfter(attempts) : texts.nextTry(formatMoment(nextAt, { zone })),
          },
          { key: "answer", label: texts.whatServerSaid, cell: ({ answer }) => answer ?? texts.notTriedYet },
          {
            key: "do",
            label: texts.change,
            cell: ({ id, state, title, person }) =>
              mayManage && state === "failed" ? <MailAgain id={id} what={texts.toPerson(title, person)} /> : null,
          },
        ]}
        rows={unsent}
        rowKey={({ id }) => id}
      />
    </section>
  );
}

function Webhooks({ sending, mayManage, zone }: Part & Readonly<{ zone: string }>) {
  const { webhooks, lines } = sending;
  return (
    <div className={`${styles.columns} ${styles.section}`}>
      <section>
        <SectionHeading>{texts.webhooks}</SectionHeading>
        <DataTable
          caption={texts.webhooks}
          captionHidden
          rowHead="name"
          columns={[
            {
              key: "name",
              label: texts.for,
              cell: ({ id, name }) => <Link href={`/setup/messages/${id}`}>{name}</Link>,
            },
            { key: "url", label: texts.address, cell: ({ url }) => <span className={styles.address}>{url}</span> },
            { key: "state", label: texts.state, cell: ({ active }) => (active ? texts.inUse : texts.paused) },
            { key: "waiting", label: texts.wait, kind: "count", cell: ({ waiting }) => waiting },
            { key: "failed", label: texts.givenUp, kind: "count", cell: ({ failed }) => failed },
            {
              key: "last",
              label: texts.lastTaken,
              cell: ({ lastSentAt }) => (lastSentAt === null ? texts.never : formatMoment(lastSentAt, { zone })),
            },
          ]}
          rows={webhooks}
          rowKey={({ id }) => id}
          empty={<EmptyState title={texts.noWebhookYet}>{texts.programOfYoursIsTold}</EmptyState>}
        />
      </section>
      {mayManage ? (
        <section>
          <SectionHeading>{texts.addWebhook}</SectionHeading>
          <WebhookForm kinds={KIND_OPTIONS} lines={lineOptions(lines)} />
        </section>
      ) : null}
    </div>
  );
}

function Times({ shiftStarts, ownNetwork }: Sending) {
  return (
    <section className={styles.section}>
      <SectionHeading>{texts.timesAndNetwork}</SectionHeading>
      <EntryForm
        keep
        fields={[
          {
            name: "shiftStarts",
            label: texts.shiftsStartAt,
            kind: "code",
            value: shiftStarts.join(", "),
            hint: texts.byPlantsClock,
          },
          {
            name: "ownNetwork",
            label: texts.webhooksLabel,
            kind: "checks",
            value: ownNetwork ? "yes" : "",
            hint: texts.whoeverMayEnterWebhooksCould,
            options: [{ value: "yes", label: texts.mayCallPlantsOwnNetwork }],
          },
        ]}
        action={changeMessageTimesAction}
        submit={texts.changeThese}
        done={texts.changed}
      />
    </section>
  );
}

export default async function SendingPage() {
  const viewer = await requireViewer("/setup/messages", "sending.view");
  const { plantZone: zone } = viewer;
  const sending = await getSending(viewer);
  const mayManage = mayDo(viewer, "sending.manage");
  return (
    <SetupPage viewer={viewer} current="messages" title={texts.whoIsToldAndHow} lead={texts.lead}>
      <Subscriptions sending={sending} mayManage={mayManage} />
      <div className={`${styles.columns} ${styles.section}`}>
        <MailServer sending={sending} mayManage={mayManage} />
        {mayManage ? <AddSubscription {...sending} /> : null}
      </div>
      <Unsent sending={sending} mayManage={mayManage} zone={zone} />
      <Webhooks sending={sending} mayManage={mayManage} zone={zone} />
      {mayManage ? <Times {...sending} /> : null}
    </SetupPage>
  );
}
