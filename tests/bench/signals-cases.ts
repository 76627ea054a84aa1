import { changeStart, type ChangeKind } from "@/lib/core/control/cases/change-start";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import type { Case, CaseEvent, CaseLine, CauseCode, Signal } from "@/lib/quality/cases/case";
import { gatherCases } from "@/lib/quality/cases/gather-cases";
import { withDriftingGauge, withOvalMould, withTiredInspector, withWornReamer } from "@/lib/simulation/process-faults";
import { towardsClock } from "@/lib/simulation/shell-truth";
import type { BenchLine } from "./run";
import { type LineScript, SHIFT, simulatedLine, simulatedSignals, upTo } from "../helpers/simulated-line";

type Fault = {
  readonly name: string;
  readonly kind: ChangeKind;
  readonly at: (age: number, random: SeededGenerator) => number;
};

export const START_FAULTS: readonly Fault[] = [
  { name: "step of 2 sd", kind: "step", at: (_, r) => 2 + r.normal() },
  { name: "step of 3 sd", kind: "step", at: (_, r) => 3 + r.normal() },
  { name: "trend of 0.02 sd a frame", kind: "trend", at: (age, r) => 0.02 * age + r.normal() },
  { name: "trend of 0.05 sd a frame", kind: "trend", at: (age, r) => 0.05 * age + r.normal() },
  { name: "trend of 0.16 sd a frame", kind: "trend", at: (age, r) => 0.16 * age + r.normal() },
  { name: "trend of 0.6 sd a frame", kind: "trend", at: (age, r) => 0.6 * age + r.normal() },
  { name: "spread of 2.5", kind: "spread", at: (_, r) => 2.5 * r.normal() },
  { name: "spread of 4", kind: "spread", at: (_, r) => 4 * r.normal() },
  {
    name: "every third frame off by 8 sd",
    kind: "frames",
    at: (a, r) => (a === 1 || r.uniform() < 1 / 3 ? 8 : 0) + r.normal(),
  },
  {
    name: "every third frame off by 20 sd",
    kind: "frames",
    at: (a, r) => (a === 1 || r.uniform() < 1 / 3 ? -20 : 0) + r.normal(),
  },
];

const KINDS: readonly ChangeKind[] = ["step", "trend", "spread", "frames"];
const QUIET = 100;
/** Thresholds of the three tests, both sides, for one false signal in 8,580 frames. */
const [SLOW, FAST, LIMIT] = [8.698, 3.5509, 4.3839];

function signalPlace(values: readonly number[]): number {
  const sums = [0, 0, 0, 0];
  for (const [place, value] of values.entries()) {
    if (place < QUIET) continue;
    for (const [at, sign] of [1, -1].entries()) {
      sums[2 * at] = Math.max(0, (sums[2 * at] ?? 0) + sign * value - 0.5);
      sums[2 * at + 1] = Math.max(0, (sums[2 * at + 1] ?? 0) + sign * value - 1.25);
      if ((sums[2 * at] ?? 0) > SLOW || (sums[2 * at + 1] ?? 0) > FAST || sign * value > LIMIT) return place;
    }
  }
  return -1;
}

export function startCoverage(fault: Fault, runs: number, seed: number) {
  const random = createSeededGenerator(seed);
  const stat = [0, 30].map(() => ({ covered: 0, length: 0, right: 0, n: 0 }));
  for (let run = 0; run < runs; run++) {
    const values: number[] = [];
    for (let i = 0; i < QUIET; i++) values.push(random.normal());
    for (let i = 0; i < 500; i++) values.push(fault.at(i + 1, random));
    const signal = signalPlace(values);
    if (signal < 0) continue;
    for (const [which, later] of [0, 30].entries()) {
      const found = changeStart(values.slice(0, signal + 1 + later), {
        kinds: KINDS,
        before: { count: 10000, sum: 0 },
      });
      const s = stat[which]!;
      s.n++;
      if (found.earliest <= QUIET && found.latest >= QUIET) s.covered++;
      if (found.kind === fault.kind) s.right++;
      s.length += found.latest - found.earliest + 1;
    }
  }
  const figure = (at: number) => {
    const { covered, length, right, n } = stat[at] ?? { covered: 0, length: 0, right: 0, n: 1 };
    return { covered: covered / n, length: length / n, right: right / n };
  };
  return [figure(0), figure(1)] as const;
}

const DRAWINGS = ["press-fit-41", "press-fit-46", "press-fit-42"] as const;
const BASE = 130;
const AFTER = 100;

export type CauseFault = {
  readonly cause: CauseCode;
  readonly drawings?: readonly LineScript["drawing"][];
  readonly operation?: string;
  readonly atShift?: boolean;
  readonly make: (
    random: SeededGenerator,
    start: number,
    fine: boolean,
  ) => { fault: LineScript["fault"]; events?: CaseEvent[] };
};

const between = (random: SeededGenerator, low: number, high: number) => low + (high - low) * random.uniform();
const sign = (random: SeededGenerator) => (random.uniform() < 0.5 ? 1 : -1);

export const CAUSE_FAULTS: readonly CauseFault[] = [
  {
    cause: "reamer worn",
    make: (r, start, fine) => {
      const slope = between(r, 0.1, 0.5) * (fine ? 0.6 : 1);
      return {
        fault: (m, place) => {
          if (place >= start) m.process = withWornReamer(m.process, slope * (place - start + 1));
        },
      };
    },
  },
  {
    cause: "reamer changed",
    make: (r, start, fine) => {
      const size = sign(r) * between(r, 4, 9) * (fine ? 0.7 : 1);
      return {
        fault: (m, place) => {
          if (place >= start) {
            m.process = withWornReamer(m.process, size);
            m.labels = { tool: "R-2" };
          }
        },
        events: [{ kind: "tool", place: start, subject: "R-2" }],
      };
    },
  },
  {
    cause: "fixture moved",
    make: (r, start) => {
      const [size, hour] = [between(r, 22, 66), between(r, 0, 12)];
      const told = r.uniform() < 0.3;
      return {
        fault: (m, place) => {
          if (place < start) return;
          const [a, b] = towardsClock(size, hour);
          m.process = { ...m.process, offsetUm: [m.process.offsetUm[0] + a, m.process.offsetUm[1] + b] };
        },
        events: told ? [{ kind: "fixture", place: start, subject: null }] : [],
      };
    },
  },
  {
    cause: "mould",
    atShift: true,
    drawings: ["press-fit-41"],
    make: (r, start) => {
      const [amplitude, position, interleaved] = [between(r, 8, 16), between(r, 0, 180), r.uniform() < 0.5];
      return {
        fault: (m, place) => {
          if (place < start || (interleaved && (place - start) % 3 !== 0)) return;
          m.process = { ...withOvalMould(m.process, amplitude), ovalPositionDeg: position };
          m.labels = { mould: "M3" };
        },
      };
    },
  },
  {
    cause: "gauge",
    make: (r, start, fine) => {
      const scale = fine ? 0.7 : 1;
      const size = sign(r) * between(r, 4, 12) * scale;
      const slope = r.uniform() < 0.5 ? sign(r) * between(r, 0.15, 0.6) * scale : 0;
      return {
        fault: (m, place) => {
          if (place >= start)
            m.measuring = withDriftingGauge(m.measuring, slope === 0 ? size : slope * (place - start + 1));
        },
      };
    },
  },
  {
    cause: "inspector",
    make: (r, start) => {
      const factor = between(r, 4, 9);
      const told = r.uniform() < 0.5;
      return {
        fault: (m, place) => {
          if (place >= start) {
            m.measuring = withTiredInspector(m.measuring, factor);
            if (told) m.labels = { inspector: "T" };
          }
        },
      };
    },
  },
  {
    cause: "paint in the bore",
    drawings: ["press-fit-46"],
    operation: "after paint",
    make: (r, start) => {
      const [film, every] = [between(r, 30, 80), 2 + Math.floor(3 * r.uniform())];
      return {
        fault: (m, place) => {
          if (place >= start && (place - start) % every === 0) m.filmUm = film;
        },
      };
    },
  },
  {
    cause: "material lot",
    atShift: true,
    make: (r, start, fine) => {
      const size = sign(r) * between(r, 4, 9) * (fine ? 0.7 : 1);
      return {
        fault: (m, place) => {
          if (place < start) return;
          m.process = withWornReamer(m.process, size);
          m.labels = { batch: "L-new", supplier: "other" };
        },
      };
    },
  },
];

/** Streams whose distribution a fault changes; the others are clean. */
const TOUCHED: Readonly<Record<string, RegExp>> = {
  "fixture moved": /^offset|tilt/,
  mould: /ovality|range|oval/,
  inspector: /bore|ovality|taper|oval/,
  "paint in the bore": /bore|face|ovality|taper/,
};
const ONLY_BORES = /bore\.mean/;

const REAMER_OR_GAUGE = new Set<CauseCode>(["reamer worn", "gauge"]);

/** The same cause, *reamer or gauge* as one answer: before a zero check the readings are the same. */
function isSame(a: CauseCode, b: CauseCode): boolean {
  return a === b || (REAMER_OR_GAUGE.has(a) && REAMER_OR_GAUGE.has(b));
}

export type CauseRun = {
  readonly starts: readonly number[];
  readonly signal: number;
  readonly line: CaseLine;
  readonly signals: readonly Signal[];
};

/** A line on which faults begin within a few frames of each other; null where none of them signals in time. */
export function simulateFaults(faults: readonly CauseFault[], seed: number): CauseRun | null {
  const random = createSeededGenerator(seed);
  const drawings = DRAWINGS.filter((one) => faults.every((fault) => fault.drawings?.includes(one) ?? true));
  const drawing = drawings[Math.floor(random.uniform() * drawings.length)] ?? "press-fit-41";
  const first = BASE + Math.floor(random.uniform() * SHIFT);
  const isFine = drawing === "press-fit-42";
  const made = faults.map((fault, at) => {
    const begin = first + (at === 0 ? 0 : Math.floor(6 * random.uniform()));
    const start = fault.atShift ? Math.ceil(begin / SHIFT) * SHIFT : begin;
    return { start, ...fault.make(createSeededGenerator(seed + 1 + at), start, isFine) };
  });
  const starts = made.map(({ start }) => start);
  const quiet = Math.min(...starts);
  const line = simulatedLine(
    {
      drawing,
      operation: faults.find(({ operation }) => operation)?.operation ?? "after machining",
      frames: Math.max(...starts) + AFTER,
      quiet,
      fault: (making, place) => made.forEach(({ fault }) => fault(making, place)),
      events: made.flatMap(({ events }) => events ?? []),
    },
    seed + 9,
  );
  const signals = simulatedSignals(line, drawing, quiet);
  const [signal] = signals;
  return signal ? { starts, signal: signal.place, line, signals } : null;
}

/** Cases as they stood so many frames after the first signal. */
export function casesAt({ line, signals, signal }: CauseRun, later: number): Case[] {
  const place = Math.min(signal + later, line.frames.length - 1);
  return gatherCases(
    upTo(line, place),
    signals.filter((one) => one.place <= place),
  );
}

const possible = (one: Case | undefined) =>
  (one?.causes ?? []).filter(({ lnOdds }) => lnOdds !== null).map(({ cause }) => cause);

type Share = { hits: number; of: number };
const shareOf = ({ hits, of }: Share) => (of === 0 ? 0 : hits / of);

function count(share: Share, isHit: boolean): void {
  share.of += 1;
  if (isHit) share.hits += 1;
}

/** How often the right cause is named, by the frames after the signal, over simulated faults of each kind. */
export function causeFigures(each: number, seed: number, only: readonly CauseFault[] = CAUSE_FAULTS) {
  const share = (): Share => ({ hits: 0, of: 0 });
  const figures = {
    first: { 0: share(), 10: share(), 30: share() },
    two: share(),
    zeroed: share(),
    covered: { 0: share(), 30: share() },
    blamed: share(),
    perCause: new Map<CauseCode, { 0: Share; 10: Share; 30: Share; cases: number }>(),
  };
  for (const [kind, fault] of only.entries()) {
    const own = { 0: share(), 10: share(), 30: share(), cases: 0 };
    figures.perCause.set(fault.cause, own);
    for (let run = 0; run < each; run++) {
      const made = simulateFaults([fault], seed + 1000 * kind + 20 * run);
      if (!made) continue;
      for (const later of [0, 10, 30] as const) {
        const cases = casesAt(made, later);
        const causes = possible(cases[0]);
        const isFirst = causes[0] !== undefined && isSame(causes[0], fault.cause);
        count(figures.first[later], isFirst);
        count(own[later], isFirst);
        if (later === 10)
          count(
            figures.two,
            causes.slice(0, 2).some((cause) => isSame(cause, fault.cause)),
          );
        const [start = 0] = made.starts;
        const since = cases[0]?.since;
        if (later !== 10)
          count(figures.covered[later], since !== undefined && since.earliest <= start && start <= since.latest);
        if (later === 30) {
          own.cases += cases.length;
          const touched = TOUCHED[fault.cause] ?? ONLY_BORES;
          for (const { feature } of made.line.streams)
            if (!touched.test(feature))
              count(figures.blamed, cases[0]?.members.some((one) => one.feature === feature) === true);
        }
      }
      if (!REAMER_OR_GAUGE.has(fault.cause)) continue;
      const check = made.line.zeroChecks.find(({ place }) => place > made.signal);
      if (check) count(figures.zeroed, possible(casesAt(made, check.place - 1 - made.signal)[0])[0] === fault.cause);
    }
  }
  return figures;
}

/** Pairs of faults whose patterns differ. */
const PAIRS: readonly (readonly [CauseCode, CauseCode])[] = [
  ["fixture moved", "gauge"],
  ["reamer worn", "fixture moved"],
  ["fixture moved", "mould"],
  ["gauge", "mould"],
  ["fixture moved", "inspector"],
];

/** How often both of two faults are among the first three causes of one case, or first in a case of its own each, 30 frames on. */
export function pairFigure(each: number, seed: number) {
  const all: Share = { hits: 0, of: 0 };
  const perPair = new Map<string, Share>();
  for (const [kind, pair] of PAIRS.entries()) {
    const own: Share = { hits: 0, of: 0 };
    perPair.set(pair.join(" + "), own);
    const faults = pair.flatMap((cause) => CAUSE_FAULTS.find((fault) => fault.cause === cause) ?? []);
    for (let run = 0; run < each; run++) {
      const made = simulateFaults(faults, seed + 1000 * kind + 20 * run);
      if (!made) continue;
      const cases = casesAt(made, Math.max(...made.starts) + 40 - made.signal);
      const isNamed = (cause: CauseCode) =>
        cases.some((one) =>
          possible(one)
            .slice(0, 3)
            .some((named) => isSame(named, cause)),
        );
      count(all, pair.every(isNamed));
      count(own, pair.every(isNamed));
    }
  }
  return { all, perPair };
}

/** Of the table in the design of signals: mean length of the interval at the signal and 30 frames later. */
const LENGTHS: Readonly<Record<string, readonly [number, number]>> = {
  "step of 2 sd": [17, 7],
  "step of 3 sd": [8, 2],
  "trend of 0.16 sd a frame": [30, 11],
};
const LONGER = 1.3;

/** Starts of single streams: how often the interval holds the true one, and how long it is. */
export function startLines(runs: number): BenchLine[] {
  return START_FAULTS.flatMap((fault, kind) => {
    const [atSignal, later] = startCoverage(fault, runs, 40 + kind);
    const [goal = null, goalLater = null] = LENGTHS[fault.name] ?? [];
    const length = (value: number, of: number | null) => ({ value, goal: of === null ? null : LONGER * of });
    return [
      { name: `${fault.name}: start missed at the signal`, value: 1 - atSignal.covered, goal: 0.07 },
      { name: `${fault.name}: 30 frames later`, value: 1 - later.covered, goal: 0.07 },
      { name: `${fault.name}: frames of the interval at the signal`, ...length(atSignal.length, goal) },
      { name: `${fault.name}: 30 frames later, frames`, ...length(later.length, goalLater) },
    ];
  });
}

/** Causes over simulated lines: shares of misses, lower is better. */
export function causeLines(each: number): BenchLine[] {
  const { first, two, zeroed, covered, blamed, perCause } = causeFigures(each, 7);
  const pairs = pairFigure(each, 90_000);
  const miss = (name: string, share: Share, goal: number | null): BenchLine => ({
    name,
    value: 1 - shareOf(share),
    goal,
  });
  return [
    miss("wrong cause first at the signal, reamer or gauge as one", first[0], 0.1),
    miss("wrong cause first ten frames later", first[10], 0.05),
    miss("wrong cause first 30 frames later", first[30], null),
    miss("right cause not among the first two ten frames later", two, 0.01),
    miss("wrong one of reamer and gauge after the next zero check", zeroed, 0.05),
    miss("two faults at once, not both among the first three", pairs.all, 0.1),
    miss("start missed on simulated lines at the signal", covered[0], 0.07),
    miss("start missed on simulated lines 30 frames later", covered[30], 0.07),
    { name: "unchanged streams blamed", value: shareOf(blamed), goal: 0.01 },
    ...[...perCause].map(([cause, own]) => miss(`${cause}: wrong ten frames after the signal`, own[10], null)),
  ];
}

/** Figures of cases: 1,000 streams of each change, 50 lines of each fault. */
export function bench(): BenchLine[] {
  return [...startLines(1000), ...causeLines(50)];
}
