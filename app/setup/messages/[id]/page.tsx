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
import styles from "../sending.module.css";

export const metadata: Metadata = { title: "Webhook" };

async function findWebhook(viewer: Viewer, id: string): Promise<WebhookShown> {
  if (!uuidSchema.safeParse(id).success) notFound();
  try {
    return await getWebhook(viewer, id);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

const STATE_WORDS = { waiting: "waits", sent: "taken", failed: "given up" } as const;

function Log({ log, mayManage, zone }: Readonly<{ log: readonly LoggedDelivery[]; mayManage: boolean; zone: string }>) {
  const said = ({ status, answer }: LoggedDelivery): string =>
    [status === null ? "" : String(status), answer ?? "not called yet"].filter((part) => part !== "").join(" ");
  return (
    <DataTable
      caption="What this webhook was told"
      captionHidden
      rowHead="kind"
      columns={[
        { key: "kind", label: "event", cell: ({ kind }) => kindWords([kind]).join("") },
        {
          key: "subject",
          label: "about",
          kind: "code",
          cell: ({ subject }) => subject.slice(subject.indexOf(":") + 1),
        },
        { key: "at", label: "happened", cell: ({ createdAt }) => formatMoment(createdAt, { zone }) },
        { key: "state", label: "state", cell: ({ state }) => STATE_WORDS[state] },
        { key: "tries", label: "calls", kind: "count", cell: ({ attempts }) => attempts },
        { key: "said", label: "last answer", cell: (row) => <span className={styles.address}>{said(row)}</span> },
        {
          key: "next",
          label: "next call",
          cell: ({ state, nextAt }) => (state === "waiting" ? formatMoment(nextAt, { zone }) : ""),
        },
        {
          key: "do",
          label: "change",
          cell: ({ id, kind, subject }) => (mayManage ? <Resend id={id} what={`${kind} of ${subject}`} /> : null),
        },
      ]}
      rows={log}
      rowKey={({ id }) => id}
      empty={<EmptyState title="Nothing was told yet">The first event that it wants appears here.</EmptyState>}
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
      status={<Link href="/setup/messages">All messages</Link>}
    >
      <SectionHeading aside="the last 100; the number of an event is the same at each call">Log</SectionHeading>
      <Log log={webhook.log} mayManage={mayManage} zone={zone} />
      <div className={`${styles.columns} ${styles.section}`}>
        {mayManage ? (
          <section>
            <SectionHeading>Change it</SectionHeading>
            <EntryForm
              keep
              fields={[
                { name: "id", label: "", kind: "hidden", value: webhook.id },
                versionField(webhook.version),
                { name: "name", label: "what it is for", value: webhook.name },
                { name: "url", label: "address", kind: "code", value: webhook.url },
                {
                  name: "kinds",
                  label: "tell it when",
                  kind: "checks",
                  value: webhook.kinds.join(" "),
                  options: KIND_OPTIONS,
                },
                {
                  name: "lineId",
                  label: "of line",
                  kind: "choice",
                  value: webhook.lineId ?? EVERY_LINE,
                  options: lineOptions(lines),
                },
                {
                  name: "active",
                  label: "use",
                  kind: "checks",
                  value: webhook.active ? "yes" : "",
                  hint: "paused, it keeps what waits and hears nothing of what happens meanwhile",
                  options: [{ value: "yes", label: "in use" }],
                },
              ]}
              action={changeWebhookAction}
              submit="Change the webhook"
              done="Changed, and recorded in the journal."
            />
          </section>
        ) : null}
        <section>
          <SectionHeading>Secret</SectionHeading>
          <p>
            Made {formatMoment(webhook.secretSince, { zone })}.{" "}
            {webhook.formerEndsAt === null
              ? "Calls are signed with it."
              : `The one before holds until ${formatMoment(webhook.formerEndsAt, { zone })}: until then each call carries both signatures.`}
          </p>
          {mayManage ? <RotateSecret id={webhook.id} /> : null}
        </section>
      </div>
    </SetupPage>
  );
}
