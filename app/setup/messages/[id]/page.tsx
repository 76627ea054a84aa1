import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import { uuidSchema } from "@/lib/schemas/uuid";
import { mayDo } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";
import { getSending, getWebhook, type LoggedDelivery, type WebhookShown } from "@/lib/server/messages/sending-queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../../_components/work-page";
import { versionField } from "../../_components/in-use";
import { SetupPage } from "../../_components/setup-page";
import { changeWebhookAction } from "../actions";
import { Resend, RotateSecret } from "../_components/message-forms";
import { EVERY_LINE, KIND_OPTIONS, kindWords, lineOptions } from "../_components/subscription-words";
import { MESSAGE_SETUP_WORDS } from "../../words/messages";
import styles from "../sending.module.css";

const words = MESSAGE_SETUP_WORDS.webhook;

export const metadata: Metadata = { title: words.webhook };

async function findWebhook(viewer: Viewer, id: string): Promise<WebhookShown> {
  if (!uuidSchema.safeParse(id).success) notFound();
  try {
    return await getWebhook(viewer, id);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

function Log({ log, mayManage, zone }: Readonly<{ log: readonly LoggedDelivery[]; mayManage: boolean; zone: string }>) {
  const said = ({ status, answer }: LoggedDelivery): string =>
    [status === null ? "" : String(status), answer ?? words.notCalledYet].filter((part) => part !== "").join(" ");
  return (
    <DataTable
      caption={words.whatWebhookWasTold}
      captionHidden
      rowHead="kind"
      columns={[
        { key: "kind", label: words.event, cell: ({ kind }) => kindWords([kind]).join("") },
        {
          key: "subject",
          label: words.about,
          kind: "code",
          cell: ({ subject }) => subject.slice(subject.indexOf(":") + 1),
        },
        { key: "at", label: words.happened, cell: ({ createdAt }) => formatMoment(createdAt, { zone }) },
        { key: "state", label: words.state, cell: ({ state }) => words.stateWords[state] },
        { key: "tries", label: words.calls, kind: "count", cell: ({ attempts }) => attempts },
        { key: "said", label: words.lastAnswer, cell: (row) => <span className={styles.address}>{said(row)}</span> },
        {
          key: "next",
          label: words.nextCall,
          cell: ({ state, nextAt }) => (state === "waiting" ? formatMoment(nextAt, { zone }) : ""),
        },
        {
          key: "do",
          label: words.change,
          cell: ({ id, kind, subject }) =>
            mayManage ? <Resend id={id} what={words.ofSubject(kind, subject)} /> : null,
        },
      ]}
      rows={log}
      rowKey={({ id }) => id}
      empty={<EmptyState title={words.nothingWasToldYet}>{words.firstEventWantsAppearsHere}</EmptyState>}
    />
  );
}

export default async function WebhookPage({ params }: PageProps<"/setup/messages/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/messages/${id}`, "sending.view");
  const { plantZone: zone } = viewer;
  const webhook = await findWebhook(viewer, id);
  const { lines } = await getSending(viewer);
  const mayManage = mayDo(viewer, "sending.manage");
  return (
    <SetupPage
      viewer={viewer}
      current="messages"
      title={webhook.name}
      lead={<span className={styles.address}>{webhook.url}</span>}
      status={<Link href="/setup/messages">{words.allMessages}</Link>}
    >
      <SectionHeading aside={words.last100}>{words.log}</SectionHeading>
      <Log log={webhook.log} mayManage={mayManage} zone={zone} />
      <div className={`${styles.columns} ${styles.section}`}>
        {mayManage ? (
          <section>
            <SectionHeading>{words.changeIt}</SectionHeading>
            <EntryForm
              keep
              fields={[
                { name: "id", label: "", kind: "hidden", value: webhook.id },
                versionField(webhook.version),
                { name: "name", label: words.whatIsFor, value: webhook.name },
                { name: "url", label: words.address, kind: "code", value: webhook.url },
                {
                  name: "kinds",
                  label: words.tellWhen,
                  kind: "checks",
                  value: webhook.kinds.join(" "),
                  options: KIND_OPTIONS,
                },
                {
                  name: "lineId",
                  label: words.ofLine,
                  kind: "choice",
                  value: webhook.lineId ?? EVERY_LINE,
                  options: lineOptions(lines),
                },
                {
                  name: "active",
                  label: words.use,
                  kind: "checks",
                  value: webhook.active ? "yes" : "",
                  hint: words.pausedKeepsWhatWaits,
                  options: [{ value: "yes", label: words.inUse }],
                },
              ]}
              action={changeWebhookAction}
              submit={words.changeWebhook}
              done={words.changedAndRecordedInJournal}
            />
          </section>
        ) : null}
        <section>
          <SectionHeading>{words.secret}</SectionHeading>
          <p>
            {words.made(
              formatMoment(webhook.secretSince, { zone }),
              webhook.formerEndsAt === null
                ? words.callsAreSignedWith
                : words.oneBeforeHoldsUntil(formatMoment(webhook.formerEndsAt, { zone })),
            )}
          </p>
          {mayManage ? <RotateSecret id={webhook.id} /> : null}
        </section>
      </div>
    </SetupPage>
  );
}
