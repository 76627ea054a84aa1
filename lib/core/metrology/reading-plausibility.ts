import { toSignificant } from "../numerics/decimal-digits";
import { beyondRange, type GaugeRange, type OffScale } from "./gauge-range";
import { READING_UNIT, type ReadingName } from "./reading-name";
import type { ShellDrawing } from "./shell-drawing";

/** A bore further than this from its nominal diameter, mm, is a question (measurement-file rules). */
const BORE_REACH_MM = 1;

/** Tolerance widths from nominal beyond which a width is a question. */
const WIDTH_REACH_TOLERANCES = 20;

/** Share of the nominal width that stands for the tolerance where a drawing does not limit the width. */
const UNLIMITED_WIDTH_SHARE = 0.005;

/** Distance from the median of its sweep, µm, beyond which an indicator reading is a question. */
const SWEEP_REACH_UM = 500;

/** Share of the reach within which decimals alone are taken for a size: further off they would fit anything. */
const DECIMALS_SHARE = 0.2;

/** Tolerance widths outside a limit beyond which a size is unlikely (a choice; common practice, no source). */
const UNLIKELY_TOLERANCES = 1;

/** The same where the drawing gives no tolerance: share of the reach. */
const UNLIKELY_SHARE = 0.1;

/** Share of the reach beyond which an indicator reading is unlikely: 250 µm from the median of its sweep (a choice; no source). */
const UNLIKELY_SWEEP_SHARE = 0.5;

/** Digits that survive moving the decimal sign of a keyed number; takes off the rounding of the division. */
const KEYED_DIGITS = 12;

/** How a keyed number most likely came about. */
export type LikelySlip = {
  readonly kind: "missing decimal sign" | "misplaced decimal sign" | "swapped digits" | "decimals only";
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
    const reach = toSignificant(WIDTH_REACH_TOLERANCES * tolerance, KEYED_DIGITS);
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
function nearest(
  candidates: readonly number[],
  { expected, reach }: Pick<Expectation, "expected" | "reach">,
): number | null {
  const within = candidates.filter((candidate) => Math.abs(candidate - expected) <= reach);
  return within.reduce<number | null>(
    (best, next) => (best === null || Math.abs(next - expected) < Math.abs(best - expected) ? next : best),
    null,
  );
}

/** Sizes of which only the decimals were keyed: 975 for 40.975. */
function withWholeMillimetres(value: number, { expected, reach }: Expectation): number | null {
  if (!Number.isInteger(value) || value <= 0) return null;
  const whole = Math.floor(expected);
  const sizes = [whole - 1, whole, whole + 1].map((mm) => Number(`${mm}.${value}`));
  return nearest(sizes, { expected, reach: DECIMALS_SHARE * reach });
}

function likelySlip(value: number, expected: Expectation): LikelySlip | null {
  // Around the zero of an indicator nearly every number fits with its sign moved: an offer would be made up.
  if (expected.unit === "µm") return null;
  const moved = (factors: readonly number[]): number | null =>
    nearest(
      factors.map((factor) => toSignificant(value * factor, KEYED_DIGITS)),
      expected,
    );
  const missing = moved([0.1, 0.01, 0.001, 0.0001]);
  if (missing !== null)
    return { kind: Number.isInteger(value) ? "missing decimal sign" : "misplaced decimal sign", value: missing };
  const swapped = nearest(digitSwaps(value), expected);
  if (swapped !== null) return { kind: "swapped digits", value: swapped };
  const whole = withWholeMillimetres(value, expected);
  if (whole !== null) return { kind: "decimals only", value: whole };
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

/** What a value is asked about for: it cannot be, or it can be and hardly ever is. */
export type ValueQuestion = ReadingQuestion & {
  readonly severity: "impossible" | "unlikely";
  /** On which side of what its gauge can show, or of what a shell can be, it lies. */
  readonly side: OffScale;
};

/** The gauge that takes a reading, as far as its range is known. */
export type RangedGauge = { readonly key: string; readonly range: GaugeRange | null };

/** Limits of a size and how far outside them it becomes unlikely, mm; null where a reading has none of its own. */
function likelySizes(drawing: ShellDrawing, name: ReadingName, { expected, reach }: Expectation) {
  if (name.kind !== "bore" && name.kind !== "width") return null;
  const { lower = null, upper = null } = drawing.characteristics.find((one) => one.name === name.kind) ?? {};
  const margin = lower !== null && upper !== null ? UNLIKELY_TOLERANCES * (upper - lower) : UNLIKELY_SHARE * reach;
  const round = (value: number): number => toSignificant(value, KEYED_DIGITS);
  return { lower: round((lower ?? expected) - margin), upper: round((upper ?? expected) + margin), margin };
}

function unlikelyReading(
  drawing: ShellDrawing,
  name: ReadingName,
  value: number,
  sweep: readonly number[],
): ValueQuestion | null {
  const usual = expectation(drawing, name, sweep);
  if (usual === null) return null;
  const { unit, expected } = usual;
  const side = value > expected ? "large" : "small";
  const sizes = likelySizes(drawing, name, usual);
  if (sizes === null) {
    const reach = UNLIKELY_SWEEP_SHARE * usual.reach;
    if (Math.abs(value - expected) <= reach) return null;
    const text = `${value} ${unit} lies more than ${reach} ${unit} from ${usual.of}, ${expected} ${unit}`;
    return { expected, reach, unit, slip: null, text, severity: "unlikely", side };
  }
  if (value >= sizes.lower && value <= sizes.upper) return null;
  const middle = { ...usual, expected: (sizes.lower + sizes.upper) / 2, reach: (sizes.upper - sizes.lower) / 2 };
  const slip = likelySlip(value, middle);
  const text = `${value} ${unit} lies far outside the limits`;
  return { expected, reach: sizes.margin, unit, slip, text, severity: "unlikely", side };
}

/**
 * What is asked about a reading as it is keyed: beyond what its gauge can show, or beyond what a shell can be (the rule of
 * implausibleReading), it is impossible and nobody can confirm it; more than a tolerance width outside its limits, or over
 * 250 µm from the median of its sweep, it is unlikely.
 *
 * @param gauge - the gauge that took it; null where none is known
 * @returns the question, null where the value is nothing out of the ordinary
 * Source: common practice, no source (the project's measurement file rules; the bounds of the unlikely are choices).
 */
export function questionReading(
  drawing: ShellDrawing,
  name: ReadingName,
  value: number,
  { sweep = [], gauge = null }: { readonly sweep?: readonly number[]; readonly gauge?: RangedGauge | null } = {},
): ValueQuestion | null {
  const unit = READING_UNIT[name.kind];
  if (unit === null) return null;
  const side = beyondRange(gauge?.range ?? null, value);
  const implausible = implausibleReading(drawing, name, value, sweep);
  if (side !== null && gauge?.range) {
    const { lower, upper } = gauge.range;
    const usual = expectation(drawing, name, sweep);
    const found = implausible?.slip ?? (usual === null ? null : likelySlip(value, usual));
    const slip = found !== null && beyondRange(gauge.range, found.value) === null ? found : null;
    const rule = `${value} ${unit} is beyond what gauge ${gauge.key} can show, ${lower} to ${upper} ${unit}`;
    const text = slip === null ? rule : `${rule}; ${slip.kind}? ${slip.value} ${unit} would fit`;
    const reach = (upper - lower) / 2;
    return { expected: lower + reach, reach, unit, slip, text, severity: "impossible", side };
  }
  if (implausible !== null)
    return { ...implausible, severity: "impossible", side: value > implausible.expected ? "large" : "small" };
  return unlikelyReading(drawing, name, value, sweep);
}

const sweepKeys = new WeakMap<readonly ReadingName[], readonly (string | null)[]>();

/** Which sweep each reading belongs to, null where none: the same for every inspection by one plan, so worked out once. */
export function sweepKeysOf(names: readonly ReadingName[]): readonly (string | null)[] {
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
