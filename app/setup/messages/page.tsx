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
import styles from "./sending.module.css";

export const metadata: Metadata = { title: "Messages" };

const SECURITY_WORDS = {
  tls: "encrypted from the start (usually port 465)",
  starttls: "encrypted by STARTTLS (usually port 587)",
  none: "not encrypted, readable on the way (port 25)",
} as const;
const SECURITY_OPTIONS = Object.entries(SECURITY_WORDS).map(([value, label]) => ({ value, label }));

type Part = Readonly<{ sending: Sending; mayManage: boolean }>;

function Subscriptions({ sending, mayManage }: Part) {
  const { subscriptions, people, lines } = sending;
  const rows = subscriptions.map((one, place) => ({ one, place }));
  const lineName = (id: string | null) =>
    id === null ? "every line" : (lines.find((line) => line.id === id)?.name ?? id);
  return (
    <section>
      <SectionHeading aside={subscriptions.some(({ id }) => id !== null) ? undefined : "as it is until you change it"}>
        Who is told what
      </SectionHeading>
      <DataTable
        caption="Who is told what"
        captionHidden
        rowHead="whom"
        columns={[
          { key: "whom", label: "who", cell: ({ one }) => whomWords(one, people) },
          {
            key: "kinds",
            label: "is told when",
            cell: ({ one }) => (
              <ul className={styles.kinds}>
                {kindWords(one.kinds).map((words) => (
                  <li key={words}>{words}</li>
                ))}
              </ul>
            ),
          },
          { key: "line", label: "of", cell: ({ one }) => lineName(one.lineId) },
          { key: "how", label: "how", cell: ({ one }) => howWords(one) },
          {
            key: "do",
            label: "change",
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
        empty={<EmptyState title="Nobody is told anything">Add who is to know what.</EmptyState>}
      />
    </section>
  );
}

function AddSubscription({ people, lines }: Sending) {
  const roles = ROLES.map((role) => ({ value: role, label: `every ${roleWords(role)}` }));
  return (
    <section>
      <SectionHeading>Tell somebody more</SectionHeading>
      <EntryForm
        fields={[
          {
            name: "whom",
            label: "who",
            kind: "choice",
            options: [...roles, ...people.map(({ id, name }) => ({ value: id, label: name }))],
          },
          { name: "kinds", label: "is told when", kind: "checks", options: KIND_OPTIONS },
          {
            name: "lineId",
            label: "of line",
            kind: "choice",
            value: EVERY_LINE,
            options: lineOptions(lines),
          },
          {
            name: "how",
            label: "how",
            kind: "choice",
            options: [
              { value: "app", label: "in the list For me" },
              { value: "mail at once", label: "by mail, at once" },
              { value: "mail shift start", label: "by mail, when a shift starts" },
            ],
          },
          {
            name: "quietFrom",
            label: "no mail from",
            kind: "code",
            optional: true,
            hint: "as 22:00, by the plant's clock; what comes then is mailed after it",
          },
          { name: "quietUntil", label: "no mail until", kind: "code", optional: true },
        ]}
        action={addSubscriptionAction}
        submit="Tell them"
        done="Added, and recorded in the journal."
      />
    </section>
  );
}

function MailServer({ sending, mayManage }: Part) {
  const { mail } = sending;
  return (
    <section>
      <SectionHeading aside={mail === null ? "nothing is mailed" : undefined}>Mail server</SectionHeading>
      {mail === null ? (
        <p className={styles.without}>
          Without one every message is in the list <Link href="/messages">For me</Link>, and a file that mail programs
          open.
        </p>
      ) : (
        <>
          <KeyValues
            pairs={[
              { label: "server", value: `${mail.host}, port ${mail.port}` },
              { label: "on the way", value: SECURITY_WORDS[mail.security] },
              { label: "user", value: mail.user ?? "none" },
              { label: "mails come from", value: mail.from },
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
            { name: "host", label: "server", kind: "code", value: mail?.host ?? "" },
            { name: "port", label: "port", kind: "number", value: String(mail?.port ?? 587) },
            {
              name: "security",
              label: "on the way",
              kind: "choice",
              value: mail?.security ?? "starttls",
              options: SECURITY_OPTIONS,
            },
            { name: "user", label: "user, if it wants one", optional: true, value: mail?.user ?? "" },
            {
              name: "password",
              label: "password",
              kind: "password",
              optional: true,
              autoComplete: "new-password",
              hint:
                mail?.hasPassword === true
                  ? "empty: the one that is there stays, for the same server and user"
                  : "kept encrypted; it is never shown",
            },
            { name: "from", label: "mails come from", kind: "email", value: mail?.from ?? "" },
          ]}
          action={changeMailServerAction}
          submit={mail === null ? "Enter the mail server" : "Change the mail server"}
          done="Changed, and recorded in the journal. Try it."
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
      <SectionHeading aside="failed ones first; what was sent is not listed">Mails that are not sent</SectionHeading>
      <DataTable
        caption="Mails that are not sent"
        captionHidden
        rowHead="title"
        columns={[
          { key: "title", label: "message", cell: ({ title }) => title },
          { key: "to", label: "to", cell: ({ person }) => person },
          {
            key: "state",
            label: "state",
            cell: ({ state, nextAt, attempts }) =>
              state === "failed" ? `given up after ${attempts}` : `next try ${formatMoment(nextAt, { zone })}`,
          },
          { key: "answer", label: "what the server said", cell: ({ answer }) => answer ?? "not tried yet" },
          {
            key: "do",
            label: "change",
            cell: ({ id, state, title, person }) =>
              mayManage && state === "failed" ? <MailAgain id={id} what={`${title} to ${person}`} /> : null,
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
        <SectionHeading>Webhooks</SectionHeading>
        <DataTable
          caption="Webhooks"
          captionHidden
          rowHead="name"
          columns={[
            { key: "name", label: "for", cell: ({ id, name }) => <Link href={`/setup/messages/${id}`}>{name}</Link> },
            { key: "url", label: "address", cell: ({ url }) => <span className={styles.address}>{url}</span> },
            { key: "state", label: "state", cell: ({ active }) => (active ? "in use" : "paused") },
            { key: "waiting", label: "wait", kind: "count", cell: ({ waiting }) => waiting },
            { key: "failed", label: "given up", kind: "count", cell: ({ failed }) => failed },
            {
              key: "last",
              label: "last taken",
              cell: ({ lastSentAt }) => (lastSentAt === null ? "never" : formatMoment(lastSentAt, { zone })),
            },
          ]}
          rows={webhooks}
          rowKey={({ id }) => id}
          empty={
            <EmptyState title="No webhook yet">
              A program of yours is told over HTTP, signed, in order, again until it takes it.
            </EmptyState>
          }
        />
      </section>
      {mayManage ? (
        <section>
          <SectionHeading>Add a webhook</SectionHeading>
          <WebhookForm kinds={KIND_OPTIONS} lines={lineOptions(lines)} />
        </section>
      ) : null}
    </div>
  );
}

function Times({ shiftStarts, ownNetwork }: Sending) {
  return (
    <section className={styles.section}>
      <SectionHeading>Times and network</SectionHeading>
      <EntryForm
        keep
        fields={[
          {
            name: "shiftStarts",
            label: "shifts start at",
            kind: "code",
            value: shiftStarts.join(", "),
            hint: "by the plant's clock, as 06:00, 14:00",
          },
          {
            name: "ownNetwork",
            label: "webhooks",
            kind: "checks",
            value: ownNetwork ? "yes" : "",
            hint: "whoever may enter webhooks could then reach machines that only this server reaches",
            options: [{ value: "yes", label: "may call the plant's own network, also without encryption" }],
          },
        ]}
        action={changeMessageTimesAction}
        submit="Change these"
        done="Changed, and recorded in the journal."
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
    <SetupPage
      viewer={viewer}
      current="messages"
      title="Who is told, and how"
      lead="Few messages, each worth it: many of one kind at once come as one. What is sent stands in the list For me as well."
    >
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
