import type { Metadata } from "next";
import Link from "next/link";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listMessages, type InboxMessage } from "@/lib/server/messages/inbox";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../_components/work-page";
import { Acknowledge } from "./_components/acknowledge";
import { MESSAGE_WORDS } from "./words";
import styles from "./messages.module.css";

const words = MESSAGE_WORDS.list;

export const metadata: Metadata = { title: words.forMe };

function Waiting({
  message,
  zone,
  now,
  mayAcknowledge,
}: Readonly<{ message: InboxMessage; zone: string; now: number; mayAcknowledge: boolean }>) {
  const { id, title, happened, todo, path, latestAt } = message;
  return (
    <li className={styles.message}>
      <h2>
        <Link href={path}>{title}</Link>
        <time className={styles.age} dateTime={latestAt} title={formatMoment(latestAt, { zone })}>
          {words.ago(formatDuration((now - Date.parse(latestAt)) / 1000))}
        </time>
      </h2>
      <p>{keepWhole(happened)}</p>
      <p className={styles.todo}>{keepWhole(todo)}</p>
      <div className={styles.keys}>
        <ButtonLink href={path}>{words.openIt}</ButtonLink>
        {mayAcknowledge ? <Acknowledge id={id} title={title} /> : null}
        <a href={`/api/v1/messages/${id}/mail`} download aria-label={words.saveMessageAsMailFile(title)}>
          {words.saveAsMailFile}
        </a>
      </div>
    </li>
  );
}

export default async function MessagesPage() {
  const viewer = await requireViewer("/messages", "messages.view");
  const { plantZone: zone } = viewer;
  const { open, done } = await listMessages(viewer);
  const mayAcknowledge = mayDo(viewer, "messages.acknowledge");
  const now = new Date().getTime();
  return (
    <WorkPage viewer={viewer} isMessages>
      <PageFrame
        head={
          <PageHead
            title={open.length === 0 ? words.nothingWaitsForYou : words.forYou(open.length)}
            lead={words.lead}
            status={mayDo(viewer, "sending.view") ? <Link href="/setup/messages">{words.whoIsToldWhat}</Link> : null}
          />
        }
      >
        {open.length === 0 ? (
          <EmptyState title={words.isQuiet}>{words.whenBatchIsHeld}</EmptyState>
        ) : (
          <ul>
            {open.map((message) => (
              <Waiting key={message.id} message={message} zone={zone} now={now} mayAcknowledge={mayAcknowledge} />
            ))}
          </ul>
        )}
        {done.length === 0 ? null : (
          <div className={styles.done}>
            <SectionHeading aside={words.last50}>{words.acknowledged}</SectionHeading>
            <DataTable
              caption={words.acknowledgedMessages}
              captionHidden
              rowHead="title"
              columns={[
                { key: "title", label: words.message, cell: ({ path, title }) => <Link href={path}>{title}</Link> },
                { key: "at", label: words.happened, cell: ({ latestAt }) => formatMoment(latestAt, { zone }) },
                { key: "by", label: words.acknowledgedBy, cell: ({ acknowledgedBy }) => acknowledgedBy ?? "" },
                {
                  key: "when",
                  label: words.when,
                  cell: ({ acknowledgedAt }) => (acknowledgedAt === null ? "" : formatMoment(acknowledgedAt, { zone })),
                },
              ]}
              rows={done}
              rowKey={({ id }) => id}
            />
          </div>
        )}
      </PageFrame>
    </WorkPage>
  );
}
