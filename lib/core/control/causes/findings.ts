import { CoreError } from "../../errors";
import { hypergeometricSf } from "../../distributions/hypergeometric";

/** Where a change began, as positions in the common order of measuring: first frame after it and the range it may be in. */
export type ChangePlace = Readonly<{ first: number; earliest: number; latest: number }>;

/** A signal of one stream with what its frame was made and measured by. */
export type FactoredSignal = Readonly<{
  stream: string;
  /** Place of the signalling frame in the common order of measuring. */
  position: number;
  /** First frame of the pattern; the position itself where it is one frame. */
  from: number;
  side: "upper" | "lower" | null;
  /** Frames that make the pattern; the signalling frame alone by default. */
  points?: readonly number[];
  /** Change point of the stream that the signal belongs to, where it is known. */
  change?: ChangePlace | null;
}>;

/** One measured frame: its place and its factors (reamer, gauge, fixture, inspector, mould). */
export type FactoredFrame = Readonly<{ position: number; factors: Readonly<Record<string, string>> }>;

/**
 * Why a level of a factor is named. began: it came into use where the change began. share: the signalling frames have it more
 * often than chance lets frames of the stretch have it.
 */
export type CauseEvidence = "began" | "share";

export type FindingCause = Readonly<{
  factor: string;
  value: string;
  /** Share of the signalling frames that have it over its share in the stretch. */
  lift: number;
  /** Chance that as many of the signalling frames have it, times the number of levels looked at; at most 1. */
  pValue: number;
  evidence: CauseEvidence;
  /** Other levels that all of these frames have with the same evidence: the data do not tell them apart. */
  or: readonly Readonly<{ factor: string; value: string }>[];
}>;

export type Finding = Readonly<{
  /** First and last frame that the signals of it touch. */
  from: number;
  to: number;
  streams: readonly string[];
  signals: readonly FactoredSignal[];
  /** Where the change began: what the change points of its signals have in common; null where none is known. */
  change: ChangePlace | null;
  /** What the signalling frames share and the others of the stretch lack; null where nothing sets them apart. */
  cause: FindingCause | null;
}>;

export type FindingOptions = Readonly<{
  /** Signals that lie at most this many frames apart belong together; 20 by default. */
  gap?: number;
  /** How much likelier a signalling frame has the factor than a frame of the series at large, to be called its cause; 1.5. */
  lift?: number;
  /** Largest chance of a share that is called a cause, all levels looked at; 0.05 by default. */
  alpha?: number;
}>;

const USUAL_GAP = 20;
const USUAL_LIFT = 1.5;
const USUAL_ALPHA = 0.05;

/**
 * Gathers the signals of many streams into findings: signals at one time that share a cause are one thing that happened.
 *
 * @param signals - of all streams of one line, any order
 * @param frames - the frames of the stretch that the streams chart, with their factors, any order
 * @param options - see FindingOptions
 * @returns findings in the order of time, each with its streams, its change point and its likely cause
 * @throws CoreError out-of-range for a negative gap, a lift below 1 or an alpha outside (0, 1)
 * Method: neighbours in time are gathered. Of such a group the signals whose frames all have one level of a factor are one
 *   finding if that level came into use within the range of their change point; else if as many of the group's frames have
 *   it by chance in fewer than alpha of cases (hypergeometric, Bonferroni over the levels); else if no change point is known
 *   and it came into use up to a gap before the first signal. The best level first, then the rest of the group again; what
 *   is left is a finding without a cause. A hint for a person, no proof.
 * Edge cases: no signals -> no findings; a factor with one level in the stretch is never a cause
 * Source: common practice, no source; hypergeometric test: Fisher 1935, The Design of Experiments, chapter 2
 */
export function gatherFindings(
  signals: readonly FactoredSignal[],
  frames: readonly FactoredFrame[],
  options: FindingOptions = {},
): Finding[] {
  const { gap = USUAL_GAP, lift = USUAL_LIFT, alpha = USUAL_ALPHA } = options;
  if (!(gap >= 0)) throw new CoreError("out-of-range", `gatherFindings: gap must be at least 0; got ${gap}`);
  if (!(lift >= 1)) throw new CoreError("out-of-range", `gatherFindings: lift must be at least 1; got ${lift}`);
  if (!(alpha > 0 && alpha < 1)) {
    throw new CoreError("out-of-range", `gatherFindings: alpha must be above 0 and below 1; got ${alpha}`);
  }
  const stretch = stretchOf(frames);
  const findings: Finding[] = [];
  for (const group of gatherInTime(signals, gap)) {
    const rest = restOf(group, stretch);
    while (rest.signals.size > 0) {
      const best = bestCause(rest, stretch, { gap, lift, alpha });
      const members = [...(best === null ? rest.signals.keys() : (rest.members.get(best.level) ?? []))];
      findings.push(findingOf(members, best?.cause ?? null));
      takeOut(rest, members, stretch);
    }
  }
  return findings.sort((a, b) => a.from - b.from || a.to - b.to);
}

type Level = Readonly<{
  factor: string;
  value: string;
  count: number;
  first: number;
  staysNew: boolean;
  place: number;
}>;
type Stretch = Readonly<{
  count: number;
  at: ReadonlyMap<number, FactoredFrame>;
  levels: readonly Level[];
  /** Levels that each frame of `at` has, in the order of their factors. */
  of: ReadonlyMap<FactoredFrame, readonly Level[]>;
}>;

function stretchOf(frames: readonly FactoredFrame[]): Stretch {
  const sorted = [...frames].sort((a, b) => a.position - b.position);
  const at = new Map(sorted.map((frame) => [frame.position, frame]));
  const levels: Level[] = [];
  const of = new Map<FactoredFrame, Level[]>(sorted.map((frame) => [frame, []]));
  for (const factor of [...new Set(sorted.flatMap((frame) => Object.keys(frame.factors)))].sort()) {
    const seen = new Map<string, { count: number; start: number }>();
    sorted.forEach((frame, index) => {
      const value = frame.factors[factor];
      if (value === undefined) return;
      const level = seen.get(value) ?? { count: 0, start: index };
      level.count += 1;
      seen.set(value, level);
    });
    if (seen.size < 2) continue;
    const known = new Map<string, Level>();
    for (const [value, { count, start }] of seen) {
      // In use from the first frame on, a level came with nothing that is seen here.
      const staysNew = start > 0 && count === sorted.length - start;
      const level = { factor, value, count, first: sorted[start]!.position, staysNew, place: levels.length };
      levels.push(level);
      known.set(value, level);
    }
    for (const frame of sorted) {
      const level = known.get(frame.factors[factor] ?? "");
      if (level !== undefined && frame.factors[factor] !== undefined) of.get(frame)!.push(level);
    }
  }
  return { count: sorted.length, at, levels, of };
}

function gatherInTime(signals: readonly FactoredSignal[], gap: number): FactoredSignal[][] {
  const sorted = [...signals].sort(
    (a, b) => a.from - b.from || a.position - b.position || (a.stream < b.stream ? -1 : a.stream > b.stream ? 1 : 0),
  );
  const groups: FactoredSignal[][] = [];
  let end = -Infinity;
  for (const signal of sorted) {
    if (signal.from - end > gap) groups.push([]);
    groups.at(-1)!.push(signal);
    end = Math.max(end, signal.position);
  }
  return groups;
}

const pointsOf = (signal: FactoredSignal): readonly number[] => signal.points ?? [signal.position];

/** The levels that all frames of the signal have that the stretch knows; none where it knows none. */
function sharedLevels(frames: readonly FactoredFrame[], { of }: Stretch): readonly Level[] {
  const [first, ...others] = frames;
  if (first === undefined) return [];
  return of.get(first)!.filter(({ factor, value }) => others.every((frame) => frame.factors[factor] === value));
}

/**
 * What is left of a group: its signals with their known frames, those that have each level, how many signals touch each
 * frame, and how many touched frames have each level. Taking a signal out costs what the signal holds, not the group.
 */
type Rest = Readonly<{
  signals: Map<FactoredSignal, Readonly<{ frames: readonly FactoredFrame[]; levels: readonly Level[] }>>;
  members: Map<Level, Set<FactoredSignal>>;
  touches: Map<FactoredFrame, number>;
  marked: Map<Level, number>;
}>;

function addTo<K>(counts: Map<K, number>, key: K, step: 1 | -1): number {
  const count = (counts.get(key) ?? 0) + step;
  if (count === 0) counts.delete(key);
  else counts.set(key, count);
  return count;
}

function restOf(group: readonly FactoredSignal[], stretch: Stretch): Rest {
  const rest: Rest = { signals: new Map(), members: new Map(), touches: new Map(), marked: new Map() };
  for (const signal of group) {
    const frames = [...new Set(pointsOf(signal))].flatMap((position) => stretch.at.get(position) ?? []);
    const levels = sharedLevels(frames, stretch);
    rest.signals.set(signal, { frames, levels });
    for (const level of levels) rest.members.set(level, (rest.members.get(level) ?? new Set()).add(signal));
    for (const frame of frames)
      if (addTo(rest.touches, frame, 1) === 1) for (const level of stretch.of.get(frame)!) addTo(rest.marked, level, 1);
  }
  return rest;
}

function takeOut(rest: Rest, signals: readonly FactoredSignal[], stretch: Stretch): void {
  for (const signal of signals) {
    const { frames, levels } = rest.signals.get(signal)!;
    rest.signals.delete(signal);
    for (const level of levels) {
      const members = rest.members.get(level)!;
      members.delete(signal);
      if (members.size === 0) rest.members.delete(level);
    }
    for (const frame of frames)
      if (addTo(rest.touches, frame, -1) === 0)
        for (const level of stretch.of.get(frame)!) addTo(rest.marked, level, -1);
  }
}

type Limits = Readonly<{ gap: number; lift: number; alpha: number }>;

/** The level that explains most of the signals of what is left of a group, or null. */
function bestCause(
  rest: Rest,
  stretch: Stretch,
  { gap, lift: leastLift, alpha }: Limits,
): { level: Level; cause: FindingCause } | null {
  const drawn = rest.touches.size;
  const chances = new Map<string, number>();
  /** Many levels have the same counts: their chance is computed once. */
  const chanceOf = (marked: number, count: number): number => {
    const key = `${marked} ${count}`;
    const known = chances.get(key);
    if (known !== undefined) return known;
    const chance = hypergeometricSf(marked - 1, { lotSize: stretch.count, marked: count, drawn });
    chances.set(key, chance);
    return chance;
  };
  const shared = [...rest.members.keys()].sort((a, b) => a.place - b.place);
  const rated = shared.flatMap((level) => {
    const members = [...rest.members.get(level)!];
    const marked = rest.marked.get(level)!;
    const lift = marked / drawn / (level.count / stretch.count);
    const pValue = Math.min(1, chanceOf(marked, level.count) * stretch.levels.length);
    const began = level.staysNew ? beganWith(level.first, members, gap) : null;
    const common = pValue < alpha && lift >= leastLift;
    if (began === null && !common) return [];
    const rank = began === "known" ? 0 : common ? 1 : 2;
    const evidence: CauseEvidence = rank === 1 ? "share" : "began";
    return [{ level, members: members.length, lift, pValue, evidence, rank }];
  });
  const order = (a: (typeof rated)[number], b: (typeof rated)[number]) =>
    a.rank - b.rank || b.members - a.members || a.pValue - b.pValue;
  const [best, ...others] = rated.sort(order);
  if (best === undefined) return null;
  const { level, lift, pValue, evidence } = best;
  const or = others
    .filter((other) => order(best, other) === 0)
    .map((other) => ({ factor: other.level.factor, value: other.level.value }));
  return { level, cause: { factor: level.factor, value: level.value, lift, pValue, evidence, or } };
}

/** Whether a level that came into use at `first` did so where the change of these signals is known, or supposed, to begin. */
function beganWith(first: number, signals: readonly FactoredSignal[], gap: number): "known" | "supposed" | null {
  const change = commonChange(signals);
  if (change !== null) return first >= change.earliest && first <= change.latest ? "known" : null;
  const from = Math.min(...signals.map((signal) => signal.from));
  return first <= from && from - first <= gap ? "supposed" : null;
}

/** What the change points of the signals have in common; of those that have nothing in common the narrowest. */
function commonChange(signals: readonly FactoredSignal[]): ChangePlace | null {
  const places = signals.flatMap((signal) => signal.change ?? []);
  const narrowest = [...places].sort((a, b) => a.latest - a.earliest - (b.latest - b.earliest))[0];
  if (narrowest === undefined) return null;
  const earliest = Math.max(...places.map((place) => place.earliest));
  const latest = Math.min(...places.map((place) => place.latest));
  if (earliest > latest) return narrowest;
  return { first: Math.min(latest, Math.max(earliest, narrowest.first)), earliest, latest };
}

function findingOf(signals: readonly FactoredSignal[], cause: FindingCause | null): Finding {
  return {
    from: Math.min(...signals.map((signal) => signal.from)),
    to: Math.max(...signals.map((signal) => signal.position)),
    streams: [...new Set(signals.map((signal) => signal.stream))],
    signals,
    change: commonChange(signals),
    cause,
  };
}
