import type { Stability } from "../core/capability/process-capability";
import type { FramesLeft } from "../core/control/tool-life/tool-life";
import type { FeatureName } from "../core/metrology/features";
import { alarmKeyOf } from "./alarm/alarm-streams";
import type { CaseChange } from "./cases/case";
import type { FoundCase } from "./cases/found-case";
import { alarmKeyOfChart } from "./cases/streams-of-case";
import { PRESENT_FRAMES, streamFinding, type StreamFinding } from "./stream-finding";

/** Working days within which a tool has to be changed before the screen asks for it. A choice, no source. */
const DAYS_AHEAD = 3;

/** A case that is about the stream. */
export type StandingCase = Readonly<{
  id: string;
  number: number;
  state: "open" | "closed";
  found: FoundCase;
  overAt: string | null;
  stands: boolean;
  /** Inspections at which it signalled. */
  signals: readonly string[];
}>;

export type StandingFrame = Readonly<{ inspectionId: string; serial: string; value: number; isOutside: boolean }>;

type Change = Extract<StreamFinding, { kind: "moved" | "off-baseline" }>;

/**
 * How a stream stands: the one thing that headline, chart and advice say. In control are `noticed`, `restless`, `few` and `steady`:
 * no case is open, and no frame lies outside that no case explains. Indices count the frames given.
 */
export type StreamStanding =
  | Readonly<{
      kind: "case";
      case: StandingCase;
      /** What it did to this stream. */
      change: CaseChange;
      /** Numbers of further open cases. */
      others: readonly number[];
    }>
  | Readonly<{ kind: "outside"; frames: readonly number[]; of: number }>
  | Readonly<{ kind: "forecast"; left: FramesLeft; framesPerDay: number; finding: StreamFinding }>
  | Readonly<{ kind: "noticed"; finding: Change }>
  | Readonly<{ kind: "restless"; because: string; finding: StreamFinding }>
  | Readonly<{ kind: "few"; frames: number }>
  | Readonly<{ kind: "steady"; level: number; sd: number }>;

/** Whether nobody has to do anything about a stream that stands so. */
export function isInControl({ kind }: StreamStanding): boolean {
  return kind !== "case" && kind !== "outside" && kind !== "forecast";
}

/**
 * How a stream stands by its newest frames, whatever is shown of it.
 *
 * @param given.frames - the newest FINDING_FRAMES, oldest first, all of them where there are fewer
 * @param given.cases - those that are about it, oldest first
 * @param given.starts - indices at which a new stretch begins (a reamer was changed)
 * @param given.baseline - centre of its baseline, null where it has none
 * @param given.left - frames until its tool's line meets the guarded limit; null where nothing wears or no line is known
 * @param given.stability - what its chart says
 */
export function streamStanding(
  given: Readonly<{
    feature: FeatureName;
    frames: readonly StandingFrame[];
    cases: readonly StandingCase[];
    starts: readonly number[];
    baseline: number | null;
    left: FramesLeft | null;
    framesPerDay: number;
    stability: Stability;
  }>,
): StreamStanding {
  const { feature, frames, cases, left, framesPerDay, stability } = given;
  const open = cases.filter(({ state, stands }) => state === "open" && stands);
  // One that goes on comes before one that is over, a newer one before an older one.
  const newest = open.filter(({ overAt }) => overAt === null).at(-1) ?? open.at(-1);
  if (newest !== undefined) {
    const others = open.flatMap(({ id, number }) => (id === newest.id ? [] : [number]));
    return { kind: "case", case: newest, change: changeOf(newest, feature), others };
  }
  const outside = unexplained(frames, cases);
  if (outside.length > 0) return { kind: "outside", frames: outside, of: Math.min(frames.length, PRESENT_FRAMES) };
  const finding = streamFinding(
    frames.map(({ value }) => value),
    given.starts,
    given.baseline,
  );
  if (left !== null && left.untilBound !== null && left.untilBound <= framesPerDay * DAYS_AHEAD)
    return { kind: "forecast", left, framesPerDay, finding };
  if (finding.kind === "moved" || finding.kind === "off-baseline") return { kind: "noticed", finding };
  if (stability.verdict === "unstable") return { kind: "restless", because: stability.because ?? "", finding };
  return finding;
}

function changeOf({ found }: StandingCase, feature: FeatureName): CaseChange {
  const key = alarmKeyOfChart(feature);
  return found.members.find((one) => alarmKeyOf(one.feature) === key)?.change ?? found.change;
}

/** Places of the newest frames that lie outside, but for those of a case that a person closed. */
function unexplained(frames: readonly StandingFrame[], cases: readonly StandingCase[]): number[] {
  const closed = cases.filter(({ state }) => state === "closed");
  const explained = new Set(closed.flatMap(({ found, signals }) => [...found.outside, ...signals]));
  return frames.flatMap(({ isOutside, serial, inspectionId }, place) =>
    isOutside && place >= frames.length - PRESENT_FRAMES && !explained.has(serial) && !explained.has(inspectionId)
      ? [place]
      : [],
  );
}

/** Frames that are flagged, by inspection, with the number of the case that they belong to; null where none is open. */
export function flaggedFrames(
  standing: StreamStanding,
  frames: readonly StandingFrame[],
  cases: readonly StandingCase[],
): ReadonlyMap<string, number | null> {
  const flags = new Map<string, number | null>();
  if (standing.kind === "outside")
    for (const place of standing.frames) {
      const frame = frames[place];
      if (frame !== undefined) flags.set(frame.inspectionId, null);
    }
  if (standing.kind !== "case") return flags;
  for (const { state, stands, signals, number } of cases)
    if (state === "open" && stands) for (const inspection of signals) flags.set(inspection, number);
  return flags;
}
