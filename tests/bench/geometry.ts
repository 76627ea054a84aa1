import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { functionalSizeUncertainty } from "@/lib/core/metrology/functional-size-uncertainty";
import { monteCarloUncertainty } from "@/lib/core/metrology/monte-carlo-uncertainty";
import type { HarmonicSection } from "@/lib/core/metrology/seat-section";
import { type PlanePoint, pointsFromPolar } from "@/lib/core/metrology/plane-point";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { referenceCircles } from "@/lib/core/metrology/reference-circles";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { frameMeaning } from "@/lib/quality/frame-meaning";
import type { BenchLine } from "./run";

/** Frames measured in turn, so that no single set of readings decides. */
const FRAMES = 64;
const ROUNDS = 16;
const DRAWS = 10_000;
const RAD = Math.PI / 180;

type Noise = () => number;

function readingOf(name: ReadingName, noise: Noise): number | null {
  switch (name.kind) {
    case "bore":
      return 40.972 + 0.008 * Math.cos(2 * (name.directionDeg - 40) * RAD) + 0.0015 * noise();
    case "sweep":
      return 50 * Math.cos((name.angleDeg - 120) * RAD) + 4 * Math.cos(2 * (name.angleDeg - 40) * RAD) + 1.2 * noise();
    case "face":
      return 12 * Math.cos(name.angleDeg * RAD) + noise();
    case "width":
      return 86.5 + 0.02 * noise();
    default:
      return null;
  }
}

function sectionOf(noise: Noise) {
  const angles = Array.from({ length: 24 }, (_, i) => i * 15);
  return pointsFromPolar(
    angles,
    angles.map((angle) => 20.486 + 0.004 * Math.cos(2 * (angle - 40) * RAD) + 0.0015 * noise()),
  );
}

function medianUs(times: number[]): number {
  times.sort((a, b) => a - b);
  return (times[Math.floor(times.length / 2)] ?? NaN) * 1000;
}

/** Time of the Monte Carlo of coaxiality, tilt and functional size, each with 10,000 draws. */
function drawsMs(): number {
  const at = (seat: "ds" | "nds", depthMm: number, centre: PlanePoint): HarmonicSection => ({
    shape: "harmonic",
    seat,
    depthMm,
    xMm: seat === "ds" ? depthMm : 86.5 - depthMm,
    centre,
    radiusMm: 20.486,
    harmonics: [{ order: 2, amplitudeMm: 0.004, phaseDeg: 40 }],
  });
  const axis = { y: 0, z: 0 };
  const off = { y: -0.025, z: 0.043 };
  const sections = [at("ds", 2, axis), at("ds", 8, axis), at("nds", 2, off), at("nds", 8, off)];
  const noise = { diameterUm: 0.75, commonDiameterUm: 2.5, centreUm: 0.6, ovalUm: 0.5 };
  const [design] = compileMeasurement(fullPlan(PRESS_FIT_41), PRESS_FIT_41).designs.swept;
  const centres = (design?.sections ?? []).map(({ xMm }) => ({ xMm, yMm: off.y, zMm: off.z }));
  const times = Array.from({ length: 5 }, () => {
    const start = performance.now();
    functionalSizeUncertainty(sections, { noise, draws: DRAWS, generator: createSeededGenerator(41) });
    if (design)
      monteCarloUncertainty(design, PRESS_FIT_41, { centres, draws: DRAWS, generator: createSeededGenerator(41) });
    return performance.now() - start;
  });
  // What else the machine does only ever adds.
  return Math.min(...times);
}

/** Median time of the steps of one frame and of the complete frame, µs. */
export function benchGeometry(): BenchLine[] {
  const generator = createSeededGenerator(41);
  const noise: Noise = () => generator.normal();
  const names = fullPlan(PRESS_FIT_41);
  const compiled = compileMeasurement(names, PRESS_FIT_41);
  const frames = Array.from({ length: FRAMES }, () => ({
    values: names.map((name) => readingOf(name, noise)),
    sections: Array.from({ length: 4 }, () => sectionOf(noise)),
  }));
  const steps = { measure: [] as number[], circles: [] as number[], meaning: [] as number[], frame: [] as number[] };
  for (let round = 0; round < ROUNDS; round++)
    for (const { values, sections } of frames) {
      const start = performance.now();
      const measurement = measureFrame(compiled, values);
      const measured = performance.now();
      sections.forEach(referenceCircles);
      const circled = performance.now();
      frameMeaning(PRESS_FIT_41, { measurement, uncertainties: compiled.covered });
      const done = performance.now();
      steps.measure.push(measured - start);
      steps.circles.push(circled - measured);
      steps.meaning.push(done - circled);
      steps.frame.push(done - start);
    }
  return [
    { name: "10,000 draws of coaxiality, tilt and functional size, ms", value: drawsMs(), goal: 250 },
    { name: `features of ${names.length} readings, median µs`, value: medianUs(steps.measure), goal: null },
    { name: "four circles at 4 sections of 24 points, median µs", value: medianUs(steps.circles), goal: null },
    {
      name: "fits, clearance, tilt, functional size, ream, salvage, median µs",
      value: medianUs(steps.meaning),
      goal: null,
    },
    { name: "complete frame, median µs", value: medianUs(steps.frame), goal: 1000 },
  ];
}

export const bench = benchGeometry;
