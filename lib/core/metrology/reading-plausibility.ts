import type { ReadingName } from "./reading-name";
import type { ShellDrawing } from "./shell-drawing";

/** A bore further than this from its nominal diameter, mm, is a question (measurement-file rules). */
const BORE_REACH_MM = 1;

/** Tolerance widths from nominal beyond which a width is a question. */
const WIDTH_REACH_TOLERANCES = 20;

/** Share of the nominal width that stands for the tolerance where a drawing does not limit the width. */
const UNLIMITED_WIDTH_SHARE = 0.005;

/** Distance from the median of its sweep, µm, beyond which an indicator reading is a question. */
const SWEEP_REACH_UM = 500;

/** Digits that survive moving the decimal sign of a keyed number; takes off the rounding of the division. */
const KEYED_DIGITS = 12;

/** How a keyed number most likely came about. */
export type LikelySlip = {
  readonly kind: "missing decimal sign" | "misplaced decimal sign" | "swapped digits";
  /** What was meant, in the reading's unit. */
  readonly value: number;
};

/** A value that is asked about once and may be confirmed. */
export type ReadingQuestion = {
  readonly expected: number;
  /** Largest plausible distance from `expected`, same unit. */
  readonly reach: number;
  readonly unit: "mm" | "µm";
  readonly slip: LikelySlip | null;
  /** The rule and the likely slip, in one sentence without a full stop. */
  readonly text: string;
};

type Expectation = {
  readonly expected: number;
  readonly reach: number;
  readonly unit: "mm" | "µm";
  readonly of: string;
};

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  const upper = sorted[middle] ?? 0;
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? upper) + upper) / 2;
}

function expectation(drawing: ShellDrawing, name: ReadingName, sweep: readonly number[]): Expectation | null {
  if (name.kind === "bore")
    return { expected: drawing.nominalBoreMm, reach: BORE_REACH_MM, unit: "mm", of: "the nominal bore" };
  if (name.kind === "width") {
    const limits = drawing.characteristics.find((candidate) => candidate.name === "width");
    const lower = limits?.lower ?? null;
    const upper = limits?.upper ?? null;
    const tolerance = lower !== null && upper !== null ? upper - lower : UNLIMITED_WIDTH_SHARE * drawing.widthMm;
    const reach = Number((WIDTH_REACH_TOLERANCES * tolerance).toPrecision(KEYED_DIGITS));
    return { expected: drawing.widthMm, reach, unit: "mm", of: "the nominal width" };
  }
  if ((name.kind === "sweep" || name.kind === "face") && sweep.length >= 3)
    return { expected: median(sweep), reach: SWEEP_REACH_UM, unit: "µm", of: "the median of its sweep" };
  return null;
}

/** All numbers that come of swapping two digits of a keyed number, its sign and decimal point staying in place. */
function digitSwaps(value: number): number[] {
  const text = String(Math.abs(value));
  if (!/^\d+(\.\d+)?$/.test(text)) return [];
  const places = [...text].map((_, i) => i).filter((i) => text[i] !== ".");
  return places.flatMap((a) =>
    places
      .filter((b) => b > a && text[a] !== text[b])
      .map((b) => {
        const characters = [...text];
        characters[a] = text[b] ?? "";
        characters[b] = text[a] ?? "";
        return Math.sign(value) * Number(characters.join(""));
      }),
  );
}

/** The number nearest to what is expected, among those within reach. */
function nearest(candidates: readonly number[], { expected, reach }: Expectation): number | null {
  const within = candidates.filter((candidate) => Math.abs(candidate - expected) <= reach);
  return within.reduce<number | null>(
    (best, next) => (best === null || Math.abs(next - expected) < Math.abs(best - expected) ? next : best),
    null,
  );
}

function likelySlip(value: number, expected: Expectation): LikelySlip | null {
  // Around the zero of an indicator nearly every number fits with its sign moved: an offer would be made up.
  if (expected.unit === "µm") return null;
  const moved = (factors: readonly number[]): number | null =>
    nearest(
      factors.map((factor) => Number((value * factor).toPrecision(KEYED_DIGITS))),
      expected,
    );
  const missing = moved([0.1, 0.01, 0.001, 0.0001]);
  if (missing !== null)
    return { kind: Number.isInteger(value) ? "missing decimal sign" : "misplaced decimal sign", value: missing };
  const swapped = nearest(digitSwaps(value), expected);
  if (swapped !== null) return { kind: "swapped digits", value: swapped };
  const misplaced = moved([10, 100, 1000]);
  return misplaced === null ? null : { kind: "misplaced decimal sign", value: misplaced };
}

/**
 * Asks about a reading that is further from what it can be than a shell ever is, and names the likely slip of the keys
 * where the drawing says what size to expect: a bore over 1 mm from nominal, a width over 20 tolerance widths, an indicator reading over 500 µm from the median of its
 * sweep. The same rule serves the station, the measurement file and HTTP.
 *
 * @param drawing - the shell drawing
 * @param name - what the reading is of; plug and bar are never asked about
 * @param value - keyed value, mm or µm as READING_UNIT says, finite
 * @param sweep - all readings of the same sweep, this one among them, µm; fewer than three have no median to go by
 * @returns the question, or null where the value is plausible
 * Source: common practice, no source (the project's measurement file rules).
 */
export function implausibleReading(
  drawing: ShellDrawing,
  name: ReadingName,
  value: number,
  sweep: readonly number[] = [],
): ReadingQuestion | null {
  const expected = expectation(drawing, name, sweep);
  if (expected === null || Math.abs(value - expected.expected) <= expected.reach) return null;
  const { unit, reach, of } = expected;
  const slip = likelySlip(value, expected);
  const rule = `${value} ${unit} lies more than ${reach} ${unit} from ${of}, ${expected.expected} ${unit}`;
  return {
    expected: expected.expected,
    reach,
    unit,
    slip,
    text: slip === null ? rule : `${rule}; ${slip.kind}? ${slip.value} ${unit} would fit`,
  };
}

const sweepKeys = new WeakMap<readonly ReadingName[], readonly (string | null)[]>();

/** Which sweep each reading belongs to, null where none: the same for every inspection by one plan, so worked out once. */
function sweepKeysOf(names: readonly ReadingName[]): readonly (string | null)[] {
  const known = sweepKeys.get(names);
  if (known) return known;
  const keys = names.map((name) =>
    name.kind === "sweep" ? `${name.seat} ${name.depthMm}` : name.kind === "face" ? `${name.seat} face` : null,
  );
  sweepKeys.set(names, keys);
  return keys;
}

/**
 * The same for all readings of one inspection, each indicator reading against its own sweep.
 *
 * @param values - one per name; null where a reading was not taken
 * @returns a question per implausible reading, with its place
 */
export function implausibleReadings(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  values: readonly (number | null)[],
): { readonly index: number; readonly question: ReadingQuestion }[] {
  const sweeps = new Map<string, number[]>();
  const keys = sweepKeysOf(names);
  keys.forEach((key, index) => {
    const value = values[index] ?? null;
    if (key === null || value === null) return;
    const sweep = sweeps.get(key);
    if (sweep === undefined) sweeps.set(key, [value]);
    else sweep.push(value);
  });
  // Within a sweep no wider than its reach no reading can be further than that from the median.
  const narrow = new Set<string>();
  for (const [key, sweep] of sweeps) if (Math.max(...sweep) - Math.min(...sweep) <= SWEEP_REACH_UM) narrow.add(key);
  return names.flatMap((name, index) => {
    const value = values[index] ?? null;
    const key = keys[index] ?? null;
    if (value === null || (key !== null && narrow.has(key))) return [];
    const question = implausibleReading(drawing, name, value, key === null ? [] : sweeps.get(key));
    return question === null ? [] : [{ index, question }];
  });
}
