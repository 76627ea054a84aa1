import type { Metadata } from "next";
import { z } from "zod";
import { answerWords, caseSentence } from "@/lib/format/case-words";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { dayWords } from "@/lib/format/today-words";
import type { DayFrame } from "@/lib/quality/today/today-task";
import { findTokenViewer } from "@/lib/server/auth/find-token-viewer";
import { mayDo } from "@/lib/server/auth/permissions";
import { readWall, type Wall, type WallCase, type WallLine } from "@/lib/server/today/wall";
import { keepWhole } from "@/lib/ui/keep-whole";
import { MARK_OF_STATE, type MarkedState, StateMark } from "@/lib/ui/state-mark";
import { WallPulse } from "./_components/wall-pulse";
import { WALL_WORDS as words } from "../words";
import styles from "./wall.module.css";

// The address is the key: it goes to no other site and into no search index.
export const metadata: Metadata = { title: words.title, referrer: "no-referrer", robots: { index: false } };

/** Marks that one line of the wall bears; of more frames the newest. */
const MOST_MARKS = 48;

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

function Marks({ frames }: Readonly<{ frames: readonly DayFrame[] }>) {
  return (
    <span className={styles.marks} aria-hidden="true">
      {frames.slice(-MOST_MARKS).map(({ serial, verdict, atMs }) => (
        <StateMark
          key={`${serial} ${atMs}`}
          state={verdict in MARK_OF_STATE ? (verdict as MarkedState) : "not measured"}
          size="fill"
          wordBeside
        />
      ))}
    </span>
  );
}

function OpenCase({ one, more, zone }: Readonly<{ one: WallCase; more: number; zone: string }>) {
  return (
    <div className={styles.case}>
      <span className={styles.flag} aria-hidden="true">
        <StateMark state="signal" size="fill" wordBeside />
      </span>
      <p>
        <b>{keepWhole(words.moved(caseSentence(one.found)))}</b>
        {keepWhole(answerWords(one.found.answer))}
        <i>
          {keepWhole(words.since(formatMoment(one.sinceAt, { zone })))}, {words.owner(one.owner)}
          {more > 0 ? `, ${words.more(more)}` : ""}
        </i>
      </p>
    </div>
  );
}

function Line({ one, isToday, zone }: Readonly<{ one: WallLine; isToday: boolean; zone: string }>) {
  const measured = one.days.reduce((sum, day) => sum + day.measured, 0);
  const frames = one.days.flatMap((day) => day.frames).toSorted((a, b) => a.atMs - b.atMs);
  const verdicts = frames.map(({ verdict }) => verdict);
  const isWell = verdicts.every((verdict) => verdict === "conforms");
  return (
    <section className={styles.line} aria-label={one.line}>
      <h2 className={styles.name}>
        {one.line} <small>{one.name}</small>
      </h2>
      <p className={styles.count}>
        <b>{measured}</b> {isToday ? words.frames(measured) : words.framesThen(measured)}
      </p>
      <p className={isWell ? styles.verdicts : `${styles.verdicts} noText`}>{dayWords(verdicts)}</p>
      <p className={one.held === 0 ? styles.held : `${styles.held} noText`}>
        {one.held === 0 ? words.noneHeld : words.heldLine(one.held)}
      </p>
      <Marks frames={frames} />
      {one.worst === null ? (
        <p className={styles.steady}>{words.steady}</p>
      ) : (
        <OpenCase one={one.worst} more={one.cases - 1} zone={zone} />
      )}
    </section>
  );
}

function Head({ wall, zone }: Readonly<{ wall: Wall; zone: string }>) {
  const day = wall.day === null || wall.isToday ? null : formatDay(`${wall.day}T12:00:00Z`, { zone });
  return (
    <header className={styles.head}>
      <h1>
        {wall.plant}
        {day === null ? null : <small>{keepWhole(words.lastDay(day))}</small>}
      </h1>
      <WallPulse now={wall.now} zone={zone} />
    </header>
  );
}

export default async function WallPage({ params, searchParams }: PageProps<"/wall/[token]">) {
  const { token } = await params;
  const { line } = searchSchema.parse(await searchParams);
  const viewer = await findTokenViewer(token);
  if (viewer === null || !mayDo(viewer, "wall.view"))
    return (
      <main id="main" className={styles.closed}>
        <h1>{words.closed}</h1>
        <p>{words.closedHint}</p>
      </main>
    );
  const wall = await readWall(viewer, line ?? null);
  const { plantZone: zone } = viewer;
  return (
    <main id="main" className={styles.wall}>
      <Head wall={wall} zone={zone} />
      {wall.lines.length === 0 ? <p className={styles.steady}>{words.noLine}</p> : null}
      {wall.lines.map((one) => (
        <Line key={one.line} one={one} isToday={wall.isToday} zone={zone} />
      ))}
    </main>
  );
}
