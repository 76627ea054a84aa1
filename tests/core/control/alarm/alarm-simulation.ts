import { formBaseline, sizeBaseline, type SizeBaseline, vectorBaseline } from "@/lib/core/control/alarm/alarm-baseline";
import { alarmThresholds } from "@/lib/core/control/alarm/alarm-thresholds";
import { type AlarmScheme, type AlarmState, startAlarm, stepAlarm } from "@/lib/core/control/alarm/stream-alarm";
import { vectorThresholds } from "@/lib/core/control/alarm/vector-thresholds";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";

type Value = number | readonly [number, number];

/** A stream that can be simulated: values in its own sd about 0, and what it is tested by. */
export type SimulatedStream = {
  readonly name: string;
  readonly draw: (random: SeededGenerator, shift: number) => Value;
  readonly start: (random: SeededGenerator) => AlarmState;
  readonly scheme: AlarmScheme;
};

const KNOWN: SizeBaseline = { count: 1e12, mean: 0, squares: 1e12 - 1 };

function drawn<T>(n: number, draw: () => T): T[] {
  return Array.from({ length: n }, draw);
}

/** A size of known mean and sd: at the edge of its region where it has one. */
export function knownSize(runLength: number, edge: number): SimulatedStream {
  return {
    name: edge > 0 ? "size with a region" : "size",
    draw: (random, shift) => random.normal() + shift,
    start: () => startAlarm(KNOWN),
    scheme: {
      kind: "size",
      sides: "both",
      lower: edge > 0 ? -edge : null,
      upper: edge > 0 ? edge : null,
      grows: false,
      thresholds: alarmThresholds(runLength, 2 * edge),
    },
  };
}

/** A form deviation whose distribution is known: its score is normal, watched upwards. */
export function knownForm(runLength: number): SimulatedStream {
  return {
    ...knownSize(runLength, 0),
    name: "form",
    scheme: {
      kind: "size",
      sides: "upper",
      lower: null,
      upper: null,
      grows: false,
      thresholds: alarmThresholds(runLength),
    },
  };
}

export function knownVector(runLength: number, radius: number): SimulatedStream {
  return {
    name: radius > 0 ? "vector with a region" : "vector",
    draw: (random, shift) => [random.normal() + shift, random.normal()],
    start: () => startAlarm({ count: 1e12, mean: [0, 0], squares: [1e12 - 1, 0, 1e12 - 1] }),
    scheme: { kind: "vector", centre: [0, 0], radius, grows: false, thresholds: vectorThresholds(runLength, radius) },
  };
}

export function growingSize(runLength: number, frames: number): SimulatedStream {
  const known = knownSize(runLength, 0);
  return {
    ...known,
    name: "size, growing",
    start: (random) => startAlarm(sizeBaseline(drawn(frames, () => random.normal()))),
    scheme: { ...known.scheme, grows: true },
  };
}

/** Shapes of form deviations, each with its own standard deviation. */
export const FORM_SHAPES = {
  Rayleigh: { draw: (random: SeededGenerator) => Math.hypot(random.normal(), random.normal()), sd: 0.655136 },
  "range of 8": {
    draw: (random: SeededGenerator) => {
      const values = drawn(8, () => random.normal());
      return Math.max(...values) - Math.min(...values);
    },
    // d3 of eight values: tests/reference/chart-constants.json
    sd: 0.8198,
  },
} as const;

export function growingForm(runLength: number, frames: number, shape: keyof typeof FORM_SHAPES): SimulatedStream {
  const { draw, sd } = FORM_SHAPES[shape];
  return {
    name: `${shape}, growing`,
    draw: (random, shift) => draw(random) + shift * sd,
    start: (random) => startAlarm(formBaseline(drawn(frames, () => draw(random)))),
    scheme: { kind: "form", shift: 0, grows: true, thresholds: alarmThresholds(runLength) },
  };
}

export function growingVector(runLength: number, frames: number): SimulatedStream {
  const known = knownVector(runLength, 0);
  return {
    ...known,
    name: "vector, growing",
    start: (random) => startAlarm(vectorBaseline(drawn(frames, () => [random.normal(), random.normal()] as const))),
    scheme: { ...known.scheme, grows: true },
  };
}

/** Signals of a stream over so many frames, at a shift in sd. */
export function signalsOver(stream: SimulatedStream, frames: number, shift: number, random: SeededGenerator): number {
  let state = stream.start(random);
  let signals = 0;
  for (let frame = 0; frame < frames; frame++) {
    const step = stepAlarm(stream.scheme as never, state as never, stream.draw(random, shift) as never);
    state = step.state as AlarmState;
    if (step.signal !== null) signals += 1;
  }
  return signals;
}

/** About sixty working days of a line. One run in 3,000 at 1 sd takes the change in as normal and would wait for a false alarm. */
const LONGEST_WAIT = 2000;

/** Mean frames to the signal, none waiting longer than 2,000, after `quiet` frames without a shift; runs that signal before are drawn again. */
export function meanDelay(
  stream: SimulatedStream,
  { shift, quiet, runs, seed }: { shift: number; quiet: number; runs: number; seed: number },
): { mean: number; error: number } {
  const random = createSeededGenerator(seed);
  let [sum, squares, done] = [0, 0, 0];
  while (done < runs) {
    let state = stream.start(random);
    let early = false;
    for (let frame = 0; frame < quiet && !early; frame++) {
      const step = stepAlarm(stream.scheme as never, state as never, stream.draw(random, 0) as never);
      state = step.state as AlarmState;
      early = step.signal !== null;
    }
    if (early) continue;
    let waited = 0;
    for (let found = false; !found && waited < LONGEST_WAIT; waited++) {
      const step = stepAlarm(stream.scheme as never, state as never, stream.draw(random, shift) as never);
      state = step.state as AlarmState;
      found = step.signal !== null;
    }
    sum += waited;
    squares += waited * waited;
    done += 1;
  }
  const mean = sum / runs;
  return { mean, error: Math.sqrt((squares / runs - mean * mean) / runs) };
}

/** A plant of 52 streams as a line has them: sizes, forms and vectors in its proportions, each at the edge of its region. */
function plantAtEdges(runLength: number): readonly { stream: SimulatedStream; shift: number; count: number }[] {
  return [
    { stream: knownSize(runLength, 0.8), shift: 0.8, count: 8 },
    { stream: knownSize(runLength, 3), shift: 3, count: 8 },
    { stream: knownSize(runLength, 0), shift: 0, count: 4 },
    { stream: knownForm(runLength), shift: 0, count: 28 },
    { stream: knownVector(runLength, 1.6), shift: 1.6, count: 2 },
    { stream: knownVector(runLength, 0), shift: 0, count: 2 },
  ];
}

function plantOfBaselines(runLength: number, frames: number): readonly { stream: SimulatedStream; count: number }[] {
  return [
    { stream: growingSize(runLength, frames), count: 20 },
    { stream: growingForm(runLength, frames, "Rayleigh"), count: 14 },
    { stream: growingForm(runLength, frames, "range of 8"), count: 14 },
    { stream: growingVector(runLength, frames), count: 4 },
  ];
}

export const PLANT_STREAMS = 52;
export const FRAMES_A_WEEK = 165;
export const PLANT_RUN_LENGTH = PLANT_STREAMS * FRAMES_A_WEEK;

/** False signals of a plant with a budget of one a week, over that budget; ten weeks a seed. */
export function falseShare(kind: "edge" | "growing", seeds: number, seed: number): { share: number; error: number } {
  const random = createSeededGenerator(seed);
  const weeks = 10;
  const frames = weeks * FRAMES_A_WEEK;
  let signals = 0;
  for (let run = 0; run < seeds; run++) {
    const streams =
      kind === "edge"
        ? plantAtEdges(PLANT_RUN_LENGTH)
        : plantOfBaselines(PLANT_RUN_LENGTH, 100).map((one) => ({ ...one, shift: 0 }));
    for (const { stream, shift, count } of streams)
      for (let each = 0; each < count; each++) signals += signalsOver(stream, frames, shift, random);
  }
  return { share: signals / (weeks * seeds), error: Math.sqrt(signals) / (weeks * seeds) };
}
