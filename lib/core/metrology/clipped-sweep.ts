import { CoreError } from "../errors";
import type { GaugeRange } from "./gauge-range";
import { solveLinear } from "../numerics/solve-linear";

/** One reading of a sweep: where, and what the indicator showed, µm. */
export type SweptReading = { readonly angleDeg: number; readonly value: number };

/** Readings that the indicator's stop cut off, by their places, and at which end. */
export type ClippedReadings = {
  readonly end: "large" | "small";
  readonly places: readonly number[];
  readonly atUm: number;
};

/** What is known of the indicator; null where nobody entered it. */
export type SweepIndicator = { readonly range: GaugeRange | null; readonly resolutionUm: number | null };

/** Equal readings side by side that begin to look like a stop (a choice; no source). */
const FLAT_FROM = 3;
/** Steps of the indicator by which the rest of the sweep must have gone on beyond a flat top (a choice; no source). */
const FLAT_STEPS = 4;
/** The same in µm, above the form that a round seat leaves on a sweep (a choice; no source). */
const FLAT_UM = 12;
const RADIANS = Math.PI / 180;
/** Steps that indicators show, µm, coarsest first. */
const STEPS_UM = [10, 5, 2, 1, 0.5, 0.2, 0.1];

/** Step of an indicator that nobody entered: the coarsest on which all its readings lie. */
function stepOf(values: readonly number[]): number {
  const first = values[0] ?? 0;
  const isOn = (step: number): boolean =>
    values.every((value) => Math.abs((value - first) / step - Math.round((value - first) / step)) < 1e-6);
  return STEPS_UM.find(isOn) ?? 0;
}

/** One turn of offset and first harmonic through readings: [mean, cos, sin]; null where fewer than three angles tell it. */
function firstHarmonic(readings: readonly SweptReading[]): readonly number[] | null {
  if (new Set(readings.map(({ angleDeg }) => angleDeg % 360)).size < 3) return null;
  const normal = new Float64Array(9);
  const right = new Float64Array(3);
  for (const { angleDeg, value } of readings) {
    const row = [1, Math.cos(angleDeg * RADIANS), Math.sin(angleDeg * RADIANS)];
    row.forEach((one, i) => {
      right[i] = (right[i] ?? 0) + one * value;
      row.forEach((other, j) => {
        normal[3 * i + j] = (normal[3 * i + j] ?? 0) + one * other;
      });
    });
  }
  return [...solveLinear(normal, right)];
}

/** Places of the readings that lie side by side on the circle and show the extreme, in their order; [] where they do not. */
function flatTop(readings: readonly SweptReading[], extreme: number, tolerance: number): readonly number[] {
  const order = readings.map((_, place) => place).sort((a, b) => angleOf(readings, a) - angleOf(readings, b));
  const isFlat = order.map((place) => Math.abs((readings[place]?.value ?? 0) - extreme) <= tolerance);
  const begins = isFlat.filter(
    (flat, at) => flat && !(isFlat[(at + isFlat.length - 1) % isFlat.length] ?? false),
  ).length;
  return begins === 1 ? order.filter((_, at) => isFlat[at] === true) : [];
}

const angleOf = (readings: readonly SweptReading[], place: number): number => (readings[place]?.angleDeg ?? 0) % 360;

/** A flat top that no turning centre gives: the others say that the sweep went on well beyond it. */
function flattened(readings: readonly SweptReading[], sign: 1 | -1, stepUm: number): readonly number[] {
  const extreme = sign * Math.max(...readings.map(({ value }) => sign * value));
  const places = flatTop(readings, extreme, stepUm / 2 + 1e-6);
  const angles = new Set(places.map((place) => angleOf(readings, place)));
  if (angles.size < FLAT_FROM) return [];
  const others = readings.filter((_, place) => !places.includes(place));
  const course = firstHarmonic(others);
  if (course === null) return [];
  const [mean = 0, cos = 0, sin = 0] = course;
  const beyond = places.map((place) => {
    const angle = angleOf(readings, place) * RADIANS;
    return sign * (mean + cos * Math.cos(angle) + sin * Math.sin(angle) - extreme);
  });
  // Three other angles determine the course without a check on it: form may bend it.
  const trust = new Set(others.map(({ angleDeg }) => angleDeg % 360)).size > 3 ? 1 : 2;
  const least = trust * Math.max(FLAT_STEPS * stepUm, FLAT_UM);
  return Math.min(...beyond) >= -least / 4 && Math.max(...beyond) > least ? places : [];
}

/** Readings at an end of the known travel. Where that end is zero, one may stand there: an indicator is set to zero somewhere. */
function atTheStop(readings: readonly SweptReading[], endUm: number, stepUm: number): readonly number[] {
  const places = readings.flatMap(({ value }, place) => (Math.abs(value - endUm) <= stepUm / 2 + 1e-6 ? [place] : []));
  const angles = new Set(places.map((place) => angleOf(readings, place)));
  return angles.size >= (endUm === 0 ? 2 : 1) ? places : [];
}

/**
 * Finds readings of one sweep that the end of the indicator's travel cut off. Where the travel is known, a reading at its end
 * says only that the surface went at least so far. Where it is not, or its zero was moved, equal readings side by side at the
 * extreme are suspected when the other readings say that the sweep went on well beyond them; equal readings of a coarse
 * indicator about a real turning point do not.
 *
 * @param readings - one sweep of one section or face, closing reading included, any order
 * @returns one entry an end; [] where nothing is cut off
 * @throws CoreError not-finite
 * Source: common practice, no source; the thresholds are choices, tried on simulated sweeps in
 * tests/core/metrology/clipped-sweep.test.ts.
 */
export function clippedReadings(
  readings: readonly SweptReading[],
  { range, resolutionUm }: SweepIndicator,
): readonly ClippedReadings[] {
  readings.forEach(({ angleDeg, value }, index) => {
    if (!Number.isFinite(value) || !Number.isFinite(angleDeg))
      throw new CoreError("not-finite", `clippedReadings: readings must be finite; got ${value} (at index ${index})`, {
        index,
      });
  });
  if (readings.length === 0) return [];
  const stepUm = resolutionUm ?? stepOf(readings.map(({ value }) => value));
  return (["large", "small"] as const).flatMap((end): ClippedReadings[] => {
    const endUm = range === null ? null : end === "large" ? range.upper : range.lower;
    const stopped = endUm === null ? [] : atTheStop(readings, endUm, stepUm);
    const places = stopped.length > 0 ? stopped : flattened(readings, end === "large" ? 1 : -1, stepUm);
    return places.length === 0
      ? []
      : [{ end, places: [...places].sort((a, b) => a - b), atUm: readings[places[0] ?? 0]?.value ?? 0 }];
  });
}
