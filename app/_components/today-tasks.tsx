import Link from "next/link";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { TASK_COUNT_WORDS, taskWords } from "@/lib/format/today-words";
import { inGroups, type TaskGroup, type TaskKind, type TodayTask } from "@/lib/quality/today/today-task";
import { ButtonLink } from "@/lib/ui/button";
import { keepWhole } from "@/lib/ui/keep-whole";
import { type MarkedState, StateMark } from "@/lib/ui/state-mark";
import { APP_WORDS } from "./words";
import styles from "./today.module.css";

const words = APP_WORDS.today;

const MARK_OF_KIND: Readonly<Record<TaskKind, MarkedState>> = {
  escapes: "not proven",
  gauge: "not proven",
  case: "signal",
  batch: "held",
  "first-off": "not measured",
  device: "on device",
  job: "stop",
};

/** Tasks of a kind that stand in full; of more the number. */
const MOST_OF_A_KIND = 5;

type Clock = Readonly<{ nowMs: number; zone: string }>;

function whoText({ isMine, owner }: TodayTask): string {
  if (isMine) return words.you;
  return owner === null ? words.anybody : words.withOwner(owner);
}

function Age({ sinceMs, nowMs, zone }: Clock & Readonly<{ sinceMs: number | null }>) {
  if (sinceMs === null) return <div className={styles.age} />;
  return (
    <div className={styles.age}>
      <b>{formatDuration((nowMs - sinceMs) / 1000)}</b>
      <small>{keepWhole(formatMoment(sinceMs, { zone }))}</small>
    </div>
  );
}

function Task({ task, isFirst, clock }: Readonly<{ task: TodayTask; isFirst: boolean; clock: Clock }>) {
  const { sentence, proof, step } = taskWords(task.about, clock.zone);
  return (
    <>
      <div className={styles.what}>
        <h2>{isFirst ? keepWhole(sentence) : <Link href={task.href}>{keepWhole(sentence)}</Link>}</h2>
        <p>{keepWhole(proof)}</p>
      </div>
      <Age sinceMs={task.sinceMs} {...clock} />
      <div className={styles.step}>
        {isFirst ? (
          <ButtonLink href={task.href} kind="go" wide>
            {step}
          </ButtonLink>
        ) : (
          <Link href={task.href} tabIndex={-1} aria-hidden="true">
            {step}
          </Link>
        )}
        <small>{whoText(task)}</small>
      </div>
    </>
  );
}

function Group({ group, isFirst, clock }: Readonly<{ group: TaskGroup; isFirst: boolean; clock: Clock }>) {
  const { kind, tasks } = group;
  const shown = tasks.slice(0, MOST_OF_A_KIND);
  const rest = tasks[MOST_OF_A_KIND];
  return (
    <li className={isFirst ? `${styles.group} ${styles.first}` : styles.group}>
      <div className={styles.count}>
        <b>{tasks.length}</b>
        <span>
          <StateMark state={MARK_OF_KIND[kind]} wordBeside />
          {TASK_COUNT_WORDS[kind](tasks.length)}
        </span>
      </div>
      <ul className={styles.rows}>
        {shown.map((task, place) => (
          <li key={task.key} className={styles.row}>
            <Task task={task} isFirst={isFirst && place === 0} clock={clock} />
          </li>
        ))}
        {rest === undefined ? null : (
          <li className={styles.more}>
            <Link href={AREA_OF_KIND[kind]}>{words.more(tasks.length - shown.length)}</Link>
          </li>
        )}
      </ul>
    </li>
  );
}

/** Where all of a kind are listed. */
const AREA_OF_KIND: Readonly<Record<TaskKind, string>> = {
  escapes: "/gate/escapes",
  gauge: "/gauges",
  case: "/drift",
  batch: "/gate?state=held",
  "first-off": "/setup/first-off",
  device: "/setup/devices",
  job: "/setup/jobs",
};

/** What waits, in the order in which it is done: how many, what and how we know, since when, the next step and whose it is. */
export function TodayTasks({ tasks, ...clock }: Clock & Readonly<{ tasks: readonly TodayTask[] }>) {
  const groups = inGroups(tasks);
  return (
    <section className={styles.tasks} aria-label={words.tasks}>
      <p className={styles.columns} aria-hidden="true">
        <span>{words.howMany}</span>
        <span>{words.what}</span>
        <span>{words.openFor}</span>
        <span>{words.nextStep}</span>
      </p>
      <ul>
        {groups.map((group, place) => (
          <Group
            key={`${group.kind} ${group.isMine}`}
            group={group}
            isFirst={place === 0 && group.isMine}
            clock={clock}
          />
        ))}
      </ul>
    </section>
  );
}
