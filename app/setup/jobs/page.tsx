import type { Metadata } from "next";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatCount } from "@/lib/format/number-text";
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
import { RECORD_WORDS } from "../words/records";
import styles from "./jobs.module.css";

const texts = RECORD_WORDS.jobs;

export const metadata: Metadata = { title: texts.jobs };

type When = (time: string) => string;

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);
const isOpen = ({ state, words }: JobItem): boolean => state === "failed" || words !== null;

function stateOf(item: JobItem, when: When) {
  if (item.state === "failed") return <StateMark state="stop" word={texts.failed(when(item.at))} />;
  if (item.state === "running") return <StateMark state="in measurement" word={texts.runsSince(when(item.at))} />;
  return <StateMark state="signal" word={texts.nextTry(when(item.at))} />;
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
      <p className={styles.words}>{item.words ?? texts.nothingWasSaidOfWhy}</p>
      <p className="soft">{texts.ofTriesAskedForAgo(item.tried, item.tries, formatDuration(item.ageS))}</p>
      {manages && item.state !== "running" ? (
        <div className={styles.choices}>
          <EntryForm fields={key} action={tryJobAgainAction} submit={texts.tryAgain} done={texts.isBegunAgain} />
          <details className={styles.giveUp}>
            <summary>{texts.giveUpWithReason}</summary>
            <EntryForm
              inline
              kind="quiet"
              fields={[
                ...key,
                {
                  name: "reason",
                  label: texts.giveUpBecause,
                  hint: texts.isNotDoneThen,
                },
              ]}
              action={giveUpJobAction}
              submit={texts.giveUp}
              done={texts.givenUp}
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
      <SectionHeading aside={failed === 0 ? texts.waitsForNextTry : texts.failedFailed(formatCount(failed))}>
        {capital(kind.title)}
      </SectionHeading>
      {manages && failed > 1 ? (
        <EntryForm
          fields={[{ name: "name", label: "", kind: "hidden", value: kind.name }]}
          action={tryKindAgainAction}
          submit={texts.tryAllAgain(formatCount(failed))}
          done={texts.allOfThemAreBegun}
        />
      ) : null}
      <ul className={styles.jobs}>
        {open.map((item) => (
          <OpenJob key={item.id} item={item} when={when} manages={manages} />
        ))}
      </ul>
      {failed > open.length ? <p className="soft">{texts.newestAreShown(formatCount(open.length))}</p> : null}
    </section>
  );
}

function recurs(everyS: number | null): string {
  return everyS === null ? texts.whenAskedFor : texts.each(everyS === 60 ? texts.minute : formatDuration(everyS));
}

/** The next one that waits, and the one that runs. */
function nextOf({ items, isKnown }: JobKindItem, when: When): string {
  const running = items.find(({ state }) => state === "running");
  if (running !== undefined) return texts.runsSince(when(running.at));
  const waiting = items.find(({ state }) => state === "waiting");
  if (waiting === undefined) return texts.nothingWaits;
  return isKnown ? texts.next(when(waiting.at)) : texts.waitsForNewerShellgate;
}

function Kinds({ kinds, when }: Readonly<{ kinds: readonly JobKindItem[]; when: When }>) {
  return (
    <DataTable
      caption={texts.kindsOfJobs}
      captionHidden
      rowHead="title"
      columns={[
        { key: "title", label: texts.what, cell: ({ title }) => title },
        { key: "every", label: texts.howOften, cell: ({ everyS }) => recurs(everyS) },
        { key: "next", label: texts.now, cell: (kind) => nextOf(kind, when) },
        { key: "waiting", label: texts.waits, kind: "count", cell: ({ counts }) => formatCount(counts.waiting) },
        { key: "running", label: texts.runs, kind: "count", cell: ({ counts }) => formatCount(counts.running) },
        { key: "failed", label: texts.failedLabel, kind: "count", cell: ({ counts }) => formatCount(counts.failed) },
        { key: "done", label: texts.doneIn2Days, kind: "count", cell: ({ counts }) => formatCount(counts.done) },
        { key: "doneAt", label: texts.lastDone, cell: ({ doneAt }) => (doneAt === null ? texts.notYet : when(doneAt)) },
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
        <StateMark state="stop" word={texts.noWorkerRuns} />{" "}
        {texts.startShellgateAgain(<code>{texts.npmRunWorker}</code>)}
      </p>
    );
  return (
    <ul className={styles.workers}>
      {workers.map(({ place, version, startedAt, heardS }) => (
        <li key={`${place} ${startedAt}`}>
          <StateMark state="go" word={texts.workerRuns} />
          {texts.versionSinceHeardOfAgo(place, version, keepWhole(when(startedAt)), formatDuration(heardS))}
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
      title={failed === 0 ? texts.noJobFailed : texts.failedJobs(failed)}
      lead={texts.lead}
    >
      <Workers workers={workers} when={when} />
      {open.map((kind) => (
        <OpenKind key={kind.name} kind={kind} when={when} manages={manages} />
      ))}
      <SectionHeading>{texts.allKindsOfJobs}</SectionHeading>
      <Kinds kinds={kinds} when={when} />
    </SetupPage>
  );
}
