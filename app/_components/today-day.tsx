import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { dayWords } from "@/lib/format/today-words";
import { byHour, type DayFrame } from "@/lib/quality/today/today-task";
import { shownMoment } from "@/lib/schemas/plant-day";
import type { LineDay, TodayPage } from "@/lib/server/today/queries";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SectionHeading } from "@/lib/ui/page-frame";
import { MARK_OF_STATE, type MarkedState, StateMark } from "@/lib/ui/state-mark";
import { APP_WORDS } from "./words";
import styles from "./today.module.css";

const words = APP_WORDS.today;

function markOf(verdict: string): MarkedState {
  return verdict in MARK_OF_STATE ? (verdict as MarkedState) : "not measured";
}

/** What needs a look is a link; what conforms is a mark. */
function Frame({ frame }: Readonly<{ frame: DayFrame }>) {
  const mark = <StateMark state={markOf(frame.verdict)} wordBeside />;
  if (frame.verdict === "conforms")
    return (
      <span className={styles.mark} aria-hidden="true">
        {mark}
      </span>
    );
  const name = words.frame(frame.serial, frame.verdict);
  return (
    <Link
      className={styles.mark}
      href={`/frames/${encodeURIComponent(frame.serial)}`}
      title={name}
      aria-label={name}
      prefetch={false}
    >
      {mark}
    </Link>
  );
}

function Line({ day, zone }: Readonly<{ day: LineDay; zone: string }>) {
  const hourOf = (atMs: number) => Number(shownMoment(new Date(atMs), zone).slice(11, 13));
  const verdicts = day.frames.map(({ verdict }) => verdict);
  const isWell = verdicts.every((verdict) => verdict === "conforms");
  return (
    <li className={styles.line}>
      <div className={styles.lineName}>
        <b>{day.line}</b> <span>{day.operation}</span>
      </div>
      <div className={styles.lineCount}>
        {words.measured(day.measured)}
        {day.measured > day.frames.length ? words.newest(day.frames.length) : ""}
      </div>
      <ol className={styles.hours}>
        {byHour(day.frames, hourOf).map(({ hour, frames }) => (
          <li key={hour}>
            <span className={styles.hour}>{words.at(String(hour).padStart(2, "0"))}</span>
            <span className={styles.marks}>
              {frames.map((frame) => (
                <Frame key={`${frame.serial} ${frame.atMs}`} frame={frame} />
              ))}
            </span>
          </li>
        ))}
      </ol>
      <div className={isWell ? styles.lineWords : `${styles.lineWords} noText`}>{dayWords(verdicts)}</div>
    </li>
  );
}

/** The day of each line, frame by frame. */
export function TodayDay({ page, zone }: Readonly<{ page: TodayPage; zone: string }>) {
  const { day, isToday, lines } = page;
  const measured = lines.filter((line) => isToday || line.measured > 0);
  return (
    <section className={styles.day}>
      <SectionHeading aside={words.marks}>
        {isToday || day === null ? words.lines : keepWhole(words.linesOn(formatDay(`${day}T12:00:00Z`, { zone })))}
      </SectionHeading>
      {day === null ? (
        <p className="soft">{words.noFrames}</p>
      ) : (
        <ul>
          {measured.map((line) => (
            <Line key={`${line.line} ${line.operation}`} day={line} zone={zone} />
          ))}
        </ul>
      )}
    </section>
  );
}
