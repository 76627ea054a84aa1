import type { FeatureName } from "@/lib/core/metrology/features";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { ALARM_STREAMS } from "@/lib/quality/alarm/alarm-streams";
import { type AlarmedStream, runLine } from "@/lib/quality/alarm/run-line";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import type { MeasuringState } from "@/lib/simulation/measure-shell";
import { withDriftingGauge, withOvalMould, withTiredInspector, withWornReamer } from "@/lib/simulation/process-faults";
import { type ProcessState, towardsClock } from "@/lib/simulation/shell-truth";
import { simulatedColumns, type SimulatedFrame } from "@/tests/helpers/simulated-columns";

type Making = { readonly process: ProcessState; readonly measuring: MeasuringState };

/** A fault of a random size: what it does to a frame so many frames after it began, the first being 0. */
type DrawnFault = (making: Making, age: number) => Making;

export type FaultKind = {
  readonly name: string;
  /** Streams that it may move. */
  readonly moves: RegExp;
  readonly isTrend?: boolean;
  readonly draw: (random: SeededGenerator) => DrawnFault;
};

const between = (random: SeededGenerator, low: number, high: number) => low + (high - low) * random.uniform();
const eitherWay = (random: SeededGenerator) => (random.uniform() < 0.5 ? 1 : -1);
const BORES = /bore\.mean$/;

/** Faults of the line after machining; sizes are drawn again until one moves a stream beyond the edge that matters. */
export const FAULT_KINDS: readonly FaultKind[] = [
  {
    name: "zero of the gauge, step",
    moves: BORES,
    draw: (random) => {
      const size = eitherWay(random) * between(random, 2, 12);
      return (making) => ({ ...making, measuring: withDriftingGauge(making.measuring, size) });
    },
  },
  {
    name: "zero of the gauge, trend",
    moves: BORES,
    isTrend: true,
    draw: (random) => {
      const slope = eitherWay(random) * between(random, 0.05, 0.6);
      return (making, age) => ({ ...making, measuring: withDriftingGauge(making.measuring, slope * (age + 1)) });
    },
  },
  {
    name: "reamer worn, trend",
    moves: BORES,
    isTrend: true,
    draw: (random) => {
      const slope = between(random, 0.05, 0.5);
      return (making, age) => ({ ...making, process: withWornReamer(making.process, slope * (age + 1)) });
    },
  },
  {
    name: "reamer changed, step",
    moves: BORES,
    draw: (random) => {
      const size = eitherWay(random) * between(random, 2, 9);
      return (making) => ({ ...making, process: withWornReamer(making.process, size) });
    },
  },
  {
    name: "fixture moved, step",
    moves: /^offset|tilt$/,
    draw: (random) => {
      const [towards12, towards3] = towardsClock(between(random, 10, 66), between(random, 0, 12));
      return ({ process, measuring }) => {
        const [y, z] = process.offsetUm;
        return { measuring, process: { ...process, offsetUm: [y + towards12, z + towards3] } };
      };
    },
  },
  {
    name: "oval mould, step",
    moves: /ovality$|bore\.range$/,
    draw: (random) => {
      const amplitude = between(random, 4, 20);
      return ({ process, measuring }) => ({ measuring, process: withOvalMould(process, amplitude) });
    },
  },
  {
    name: "tired inspector, spread",
    moves: /ovality$|bore\.range$|taper$|bore\.mean$/,
    draw: (random) => {
      const factor = between(random, 2, 9);
      return ({ process, measuring }) => ({ process, measuring: withTiredInspector(measuring, factor) });
    },
  },
];

const DRAWINGS = ["press-fit-41", "press-fit-46", "press-fit-42"] as const;
const BASELINE = 150;
const RUNS_ON = 150;
const SHIFT_FRAMES = 33;
const SHIFT_ERROR_UM = 0.3;
/** Frames within which a fault beyond the edge that matters has to be told. */
const IN_TIME = 20;
/** Three lines, 198 frames a week each, one false case a week. */
const RUN_LENGTH = DRAWINGS.length * ALARM_STREAMS.length * SHIFT_FRAMES * 6;

type FaultRun = {
  /** Frames from the first beyond the edge that matters to the signal, that frame included; 0 or less: before it. Null: never. */
  readonly delay: number | null;
  /** Whether it signalled by something else than a frame outside, before any lay outside; null where none did. */
  readonly isBeforeOutside: boolean | null;
};

/**
 * One fault beyond the edge that matters, on a line with shift errors that ran quietly before. How far it moves each stream is
 * taken from the same frames without it: same random numbers, so the difference is the fault alone.
 */
function runFault(kind: FaultKind, seed: number): FaultRun {
  for (let attempt = 0; attempt < 50; attempt++) {
    const run = tryFault(kind, 100 * seed + attempt);
    if (run !== null) return run;
  }
  throw new Error(`runFault: no ${kind.name} of 50 went beyond the edge that matters`);
}

/** Shares of so many faults of a kind: signalled later than 20 frames, and, of those with a frame outside, not before it. */
export function faultFigures(kind: FaultKind, faults: number, seed: number) {
  const runs = Array.from({ length: faults }, (_, place) => runFault(kind, seed + place));
  const delays = runs.map(({ delay }) => delay ?? Infinity);
  const withOutside = runs.filter(({ isBeforeOutside }) => isBeforeOutside !== null);
  return {
    late: delays.filter((delay) => delay > IN_TIME).length / faults,
    longest: Math.max(...delays),
    outsideFirst: withOutside.filter((run) => run.isBeforeOutside === false).length / Math.max(1, withOutside.length),
  };
}

function tryFault(kind: FaultKind, seed: number): FaultRun | null {
  const random = createSeededGenerator(seed);
  const drawing = findDemonstrationDrawing(DRAWINGS[Math.floor(random.uniform() * DRAWINGS.length)] ?? "press-fit-41");
  if (drawing === null) throw new Error("runFault: a demonstration drawing is missing");
  const start = BASELINE + 10 + Math.floor(random.uniform() * 60);
  const fault = kind.draw(random);
  const shiftErrors = Array.from({ length: 20 }, () => SHIFT_ERROR_UM * random.normal());
  const making = (isFaulty: boolean): SimulatedFrame => {
    return (frame, process, measuring) => {
      const zeroed = withDriftingGauge(measuring, shiftErrors[Math.floor(frame / SHIFT_FRAMES)] ?? 0);
      const usual = { process, measuring: zeroed };
      return isFaulty && frame >= start ? fault(usual, frame - start) : usual;
    };
  };
  const frames = start + RUNS_ON;
  const line = simulatedColumns(drawing, frames, { seed, at: making(true) });
  const quiet = simulatedColumns(drawing, frames, { seed, at: making(false) });
  const streams = runLine(line, {
    runLength: () => RUN_LENGTH,
    baselineFrames: BASELINE,
    wholeAlpha: 0,
    ordinary: ({ key }) => (BORES.test(key) ? { betweenShiftSd: SHIFT_ERROR_UM / 1000 } : {}),
  }).filter(({ stream }) => kind.moves.test(stream.key));
  const passed = streams.flatMap((one) => passing(one, line, quiet, start, kind.isTrend === true) ?? []);
  if (passed.length === 0) return null;
  const found = streams.flatMap(({ signals }) => signals.filter(({ index }) => index >= start));
  const first = Math.min(...found.map(({ index }) => index));
  const outside = firstOutside(line, streams, start);
  return {
    delay: first === Infinity ? null : first - Math.min(...passed) + 1,
    isBeforeOutside: outside === null ? null : first < outside,
  };
}

type Columns = ReturnType<typeof simulatedColumns>;

/** The first frame at which the fault alone holds a stream beyond the edge that matters, or null. */
function passing(
  { stream, region }: AlarmedStream,
  line: Columns,
  quiet: Columns,
  start: number,
  isTrend: boolean,
): number | null {
  if (region === null) return null;
  const moved = (feature: FeatureName) => {
    const [with_, without] = [line.column(feature), quiet.column(feature)];
    return with_.map((value, frame) => value - (without[frame] ?? 0));
  };
  const mean = (values: readonly number[]) => values.slice(start).reduce((sum, one) => sum + one, 0) / RUNS_ON;
  const [along, across] = stream.key === "offset" ? [moved("offset.12"), moved("offset.3")] : [moved(stream.key), null];
  const sizeAt = (frame: number) => {
    const one = (values: readonly number[]) => (isTrend ? (values[frame] ?? 0) : mean(values));
    return across === null ? one(along) : Math.hypot(one(along), one(across));
  };
  for (let frame = start; frame < line.frames; frame++) {
    const size = sizeAt(frame);
    if (size >= (region.upper?.outOfControl ?? Infinity) || -size >= (region.lower?.outOfControl ?? Infinity))
      return frame;
    if (!isTrend) return null;
  }
  return null;
}

function firstOutside(line: Columns, streams: readonly AlarmedStream[], start: number): number | null {
  for (let frame = start; frame < line.frames; frame++)
    if (streams.some(({ stream }) => line.isOutside(frame, stream))) return frame;
  return null;
}
