import path from "node:path";
import type { Metadata } from "next";
import { formatBytes } from "@/lib/format/byte-text";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatCount } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { type BackupItem, type BackupPage, getBackups } from "@/lib/server/backup/queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { KeyValues } from "@/lib/ui/key-values";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer } from "../../_components/work-page";
import { FetchAgain } from "../_components/fetch-again";
import { SetupPage } from "../_components/setup-page";
import { askBackupAction, changeBackupSettingAction } from "./actions";
import styles from "./backups.module.css";
import { BACKUP_WORDS } from "../words/backups";

export const metadata: Metadata = { title: BACKUP_WORDS.page.title };

const OLD_S = 50 * 3600;
const { page, place, runs: words, setting: form } = BACKUP_WORDS;

type When = (time: string) => string;

function State({ run }: Readonly<{ run: BackupItem }>) {
  if (run.endedAt === null) return <StateMark state="in measurement" word={words.writing} />;
  if (run.failure !== null)
    return (
      <span className={styles.words}>
        <StateMark state="stop" word={words.failed} /> {run.failure}
      </span>
    );
  if (run.removedAt !== null) return <StateMark state="not measured" word={words.removed} />;
  return <StateMark state="go" word={run.encrypted ? `${words.written}, ${words.sealed}` : words.written} />;
}

function Runs({ runs, when }: Readonly<{ runs: readonly BackupItem[]; when: When }>) {
  return (
    <section>
      <SectionHeading>{words.heading}</SectionHeading>
      <DataTable
        caption={words.heading}
        captionHidden
        rowHead="asked"
        columns={[
          { key: "asked", label: words.asked, cell: ({ askedAt }) => when(askedAt) },
          { key: "by", label: words.by, cell: ({ askedBy }) => askedBy ?? words.schedule },
          { key: "state", label: words.state, cell: (run) => <State run={run} /> },
          {
            key: "file",
            label: words.file,
            kind: "code",
            cell: ({ file }) => <span className={styles.words}>{file === null ? "" : path.basename(file)}</span>,
          },
          {
            key: "size",
            label: words.size,
            kind: "numeric",
            cell: ({ bytes }) => (bytes === null ? "" : formatBytes(bytes)),
          },
          {
            key: "rows",
            label: words.rows,
            kind: "count",
            cell: ({ rows }) => (rows === null ? "" : formatCount(rows)),
          },
        ]}
        rows={runs}
        rowKey={({ id }) => id}
        empty={<EmptyState title={words.empty}>{words.emptyLead}</EmptyState>}
      />
    </section>
  );
}

function Setting({ setting }: Pick<BackupPage, "setting">) {
  const two = (part: number): string => String(part).padStart(2, "0");
  const at = `${two(Math.floor(setting.minute / 60))}:${two(setting.minute % 60)}`;
  return (
    <section>
      <SectionHeading>{form.heading}</SectionHeading>
      <EntryForm
        inline
        keep
        fields={[
          {
            name: "enabled",
            label: form.enabled,
            kind: "choice",
            value: setting.enabled ? "on" : "off",
            options: [
              { value: "on", label: form.on },
              { value: "off", label: form.off },
            ],
          },
          { name: "at", label: form.at, kind: "code", value: at, hint: form.atHint },
          { name: "keepNewest", label: form.keepNewest, kind: "number", value: String(setting.keepNewest) },
          { name: "keepWeeks", label: form.keepWeeks, kind: "number", value: String(setting.keepWeeks) },
          { name: "keepMonths", label: form.keepMonths, kind: "number", value: String(setting.keepMonths) },
          {
            name: "keys",
            label: form.keys,
            kind: "choice",
            value: setting.withKeys ? "with" : "without",
            options: [
              { value: "with", label: form.withKeys },
              { value: "without", label: form.withoutKeys },
            ],
          },
        ]}
        action={changeBackupSettingAction}
        submit={form.submit}
        done={form.done}
      />
    </section>
  );
}

export default async function BackupsPage() {
  const viewer = await requireViewer("/setup/backups", "backups.view");
  const { setting, folder, freeBytes, encrypts, newestAt, runs } = await getBackups(viewer);
  const when: When = (time) => formatMoment(time, { zone: viewer.plantZone });
  const ageS = newestAt === null ? null : Math.max(0, (Date.now() - Date.parse(newestAt)) / 1000);
  const isUnderWay = runs.some(({ endedAt }) => endedAt === null);
  const manages = mayDo(viewer, "backups.manage");
  return (
    <SetupPage
      viewer={viewer}
      current="backups"
      title={ageS === null ? page.none : page.newest(formatDuration(ageS))}
      lead={page.lead}
      status={ageS !== null && ageS > OLD_S ? <StateMark state="signal" word={page.old} /> : undefined}
    >
      {isUnderWay ? (
        <>
          <p className={styles.now}>{page.underWay}</p>
          <FetchAgain />
        </>
      ) : manages ? (
        <EntryForm kind="go" fields={[]} action={askBackupAction} submit={page.now} done={page.asked} />
      ) : null}
      <Runs runs={runs} when={when} />
      <section className={styles.place}>
        <SectionHeading>{place.heading}</SectionHeading>
        <KeyValues
          pairs={[
            { label: place.folder, value: <code className={styles.words}>{folder}</code> },
            { label: place.room, value: freeBytes === null ? place.unknown : formatBytes(freeBytes) },
            {
              label: place.protection,
              value: <span className={styles.words}>{encrypts ? place.encrypted : place.readable}</span>,
            },
          ]}
        />
        <p className="soft">{place.elsewhere}</p>
      </section>
      {manages ? <Setting setting={setting} /> : null}
    </SetupPage>
  );
}
