import type { Metadata } from "next";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { type JobItem, type JobKindItem, type JobPage, listJobs } from "@/lib/server/worker/job-list";
import { DataTable } from "@/lib/ui/data-table";
import { EntryForm } from "@/lib/ui/entry-form";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { keepWhole } from "@/lib/ui/keep-whole";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import { giveUpJobAction, tryJobAgainAction, tryKindAgainAction } from "./actions";
import styles from "./jobs.module.css";

export const metadata: Metadata = { title: "Jobs" };

type When = (time: string) => string;

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);
const isOpen = ({ state, words }: JobItem): boolean => state === "failed" || words !== null;

function stateOf(item: JobItem, when: When) {
  if (item.state === "failed") return <StateMark state="stop" word={`failed ${when(item.at)}`} />;
  if (item.state === "running") return <StateMark state="in measurement" word={`runs since ${when(item.at)}`} />;
  return <StateMark state="signal" word={`next try ${when(item.at)}`} />;
}

/** One that failed, or whose last try did: what went wrong, and what a person can do. */
function OpenJob({ item, when, manages }: Readonly<{ item: JobItem; when: When; manages: boolean }>) {
  const key = [
    { name: "name", label: "", kind: "hidden", value: item.name },
    { name: "id", label: "", kind: "hidden", value: item.id },
  ] as const;
  return (
    <li className={styles.job}>
      <p>{stateOf(item, when)}</p>
      {item.about === "" ? null : <p>{item.about}</p>}
      <p className={styles.words}>{item.words ?? "Nothing was said of why."}</p>
      <p className="soft">
        {item.tried} of {item.tries} tries, asked for {formatDuration(item.ageS)} ago
      </p>
      {manages && item.state !== "running" ? (
        <div className={styles.choices}>
          <EntryForm fields={key} action={tryJobAgainAction} submit="Try again" done="It is begun again." />
          <details className={styles.giveUp}>
            <summary>Give up with a reason</summary>
            <EntryForm
              inline
              kind="quiet"
              fields={[
                ...key,
                {
                  name: "reason",
                  label: "give it up, because",
                  hint: "It is not done then. Your name and the reason stay in the journal.",
                },
              ]}
              action={giveUpJobAction}
              submit="Give up"
              done="Given up."
            />
          </details>
        </div>
      ) : null}
    </li>
  );
}

function OpenKind({ kind, when, manages }: Readonly<{ kind: JobKindItem; when: When; manages: boolean }>) {
  const open = kind.items.filter(isOpen);
  const { failed } = kind.counts;
  return (
    <section aria-label={kind.title}>
      <SectionHeading aside={failed === 0 ? "waits for its next try" : `${formatCount(failed)} failed`}>
        {capital(kind.title)}
      </SectionHeading>
      {manages && failed > 1 ? (
        <EntryForm
          fields={[{ name: "name", label: "", kind: "hidden", value: kind.name }]}
          action={tryKindAgainAction}
          submit={`Try all ${formatCount(failed)} again`}
          done="All of them are begun again."
        />
      ) : null}
      <ul className={styles.jobs}>
        {open.map((item) => (
          <OpenJob key={item.id} item={item} when={when} manages={manages} />
        ))}
      </ul>
      {failed > open.length ? <p className="soft">The newest {formatCount(open.length)} are shown.</p> : null}
    </section>
  );
}

function recurs(everyS: number | null): string {
  return everyS === null ? "when asked for" : `each ${everyS === 60 ? "minute" : formatDuration(everyS)}`;
}

/** The next one that waits, and the one that runs. */
function nextOf({ items, isKnown }: JobKindItem, when: When): string {
  const running = items.find(({ state }) => state === "running");
  if (running !== undefined) return `runs since ${when(running.at)}`;
  const waiting = items.find(({ state }) => state === "waiting");
  if (waiting === undefined) return "nothing waits";
  return isKnown ? `next ${when(waiting.at)}` : "waits for a newer Shellgate";
}

function Kinds({ kinds, when }: Readonly<{ kinds: readonly JobKindItem[]; when: When }>) {
  return (
    <DataTable
      caption="Kinds of jobs"
      captionHidden
      rowHead="title"
      columns={[
        { key: "title", label: "what", cell: ({ title }) => title },
        { key: "every", label: "how often", cell: ({ everyS }) => recurs(everyS) },
        { key: "next", label: "now", cell: (kind) => nextOf(kind, when) },
        { key: "waiting", label: "waits", kind: "count", cell: ({ counts }) => formatCount(counts.waiting) },
        { key: "running", label: "runs", kind: "count", cell: ({ counts }) => formatCount(counts.running) },
        { key: "failed", label: "failed", kind: "count", cell: ({ counts }) => formatCount(counts.failed) },
        { key: "done", label: "done in 2 days", kind: "count", cell: ({ counts }) => formatCount(counts.done) },
        { key: "doneAt", label: "last done", cell: ({ doneAt }) => (doneAt === null ? "not yet" : when(doneAt)) },
      ]}
      rows={kinds}
      rowKey={({ name }) => name}
    />
  );
}

function Workers({ workers, when }: Readonly<{ workers: JobPage["workers"]; when: When }>) {
  if (workers.length === 0)
    return (
      <p className={styles.worker}>
        <StateMark state="stop" word="No worker runs: nothing below is done until one does." /> Start Shellgate again,
        or <code>npm run worker</code> beside it. What waits is kept.
      </p>
    );
  return (
    <ul className={styles.workers}>
      {workers.map(({ place, version, startedAt, heardS }) => (
        <li key={`${place} ${startedAt}`}>
          <StateMark state="go" word="the worker runs" />: {place}, version {version}, since{" "}
          {keepWhole(when(startedAt))}, heard of {formatDuration(heardS)} ago
        </li>
      ))}
    </ul>
  );
}

export default async function JobsPage() {
  const viewer = await requireViewer("/setup/jobs", "jobs.view");
  const { workers, kinds } = await listJobs(viewer);
  const { plantZone: zone } = viewer;
  const when: When = (time) => formatMoment(time, { zone });
  const failed = kinds.reduce((sum, { counts }) => sum + counts.failed, 0);
  const open = kinds.filter(({ items }) => items.some(isOpen));
  const manages = mayDo(viewer, "jobs.manage");
  return (
    <SetupPage
      viewer={viewer}
      current="jobs"
      title={failed === 0 ? "No job failed" : `${formatCounted(failed, "job")} failed`}
      lead="What Shellgate does later by itself, and again where it did not go well: each try waits longer than the one before. After the last try a person decides."
    >
      <Workers workers={workers} when={when} />
      {open.map((kind) => (
        <OpenKind key={kind.name} kind={kind} when={when} manages={manages} />
      ))}
      <SectionHeading>All kinds of jobs</SectionHeading>
      <Kinds kinds={kinds} when={when} />
    </SetupPage>
  );
}
