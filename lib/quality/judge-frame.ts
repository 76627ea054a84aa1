import type { CompiledMeasurement, CoveredCharacteristic, FrameMeasurement } from "../core/metrology/measure-frame";
import type { OffScale } from "../core/metrology/gauge-range";
import { formatClock, formatReadingName, type Seat } from "../core/metrology/reading-name";
import {
  type Characteristic,
  CHARACTERISTIC_UNIT,
  type CharacteristicName,
  type CharacteristicUnit,
  type ShellDrawing,
} from "../core/metrology/shell-drawing";
import { conformity, guardBand, marginToLimits } from "./conformity";
import type { DoubtCode, JudgingDoubt } from "./judging-doubt";
import type { JudgingReason, NoValueReason, WideningReason } from "./judging-reason";
import { valueAtReference } from "./temperature-rule";
import { type Verdict, worstVerdict } from "./verdict-words";

/** Verdict of one characteristic of one seat; numbers in `unit`. */
export type JudgedCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  /** The worst value: of bore and width the extreme closest to a limit or furthest beyond one. */
  readonly value: number | null;
  readonly unit: CharacteristicUnit;
  readonly lower: number | null;
  readonly upper: number | null;
  /** U (k = 2) under the plan in use, for this inspection. */
  readonly uncertainty: number;
  /** Why it is larger than the plan's own: the step of the readings, the temperature. */
  readonly widenedBy?: readonly WideningReason[];
  /** The value at 20 °C, where the part was further from it than the budget carries; it is not judged. */
  readonly valueAt20?: number;
  readonly verdict: Verdict;
  readonly critical: boolean;
  /** Reading, direction or clock position (seen from the drive side) of the worst value. */
  readonly at: string | null;
  readonly smallest?: number;
  readonly largest?: number;
  /** What plugs or bar leave possible, where no reading gives a value: null where they do not bound it. */
  readonly bounds?: {
    readonly least: number | null;
    readonly most: number | null;
    /** Of a size: the most that the smallest, and the least that the largest can be. */
    readonly smallestMost?: number | null;
    readonly largestLeast?: number | null;
  };
  /** Why it was not measured, or why a doubt about the gauge makes it not proven. */
  readonly reason?: JudgingReason;
  /** What kind the reason is of, as it is kept and sent; only with `reason`. */
  readonly code?: DoubtCode | TogetherCode | "off-scale";
  /** True where it holds the frame although the characteristic is not critical. */
  readonly alwaysHolds?: true;
};

/** A judged characteristic as it is kept, sent and shown: its reasons in words. */
export type ToldCharacteristic = Omit<JudgedCharacteristic, "reason" | "widenedBy"> & {
  readonly reason?: string;
  readonly widenedBy?: readonly string[];
};

/** Reasons that come from several inspections, or from what the plan asks for. */
export type TogetherCode = "disagreement" | "lacking";

/** A critical characteristic that the plan cannot give. */
export type UncoveredCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly reason: string;
};

/** What a frame's readings are worth against its drawing. */
export type FrameJudgement = {
  readonly verdict: Verdict;
  readonly holdsFrame: boolean;
  readonly characteristics: readonly JudgedCharacteristic[];
  readonly uncovered: readonly UncoveredCharacteristic[];
};

/** A judgement as it is kept, sent and shown. */
export type ToldJudgement = Omit<FrameJudgement, "characteristics"> & {
  readonly characteristics: readonly ToldCharacteristic[];
};

/** Value and place of a characteristic as measured; two values where it has two extremes. */
type Found = {
  readonly values: readonly number[];
  readonly at: readonly (string | null)[];
  readonly reason: NoValueReason;
};

const NOT_ESTIMABLE: NoValueReason = { code: "not-estimable" };
const NOTHING: Found = { values: [], at: [], reason: NOT_ESTIMABLE };

/** @param why - of the measurement, where it has no value */
function single(value: number | null | undefined, at: string | null, why: string | null = null): Found {
  if (value !== null && value !== undefined) return { values: [value], at: [at], reason: NOT_ESTIMABLE };
  return why === null ? NOTHING : { ...NOTHING, reason: { code: "not-given", why } };
}

/** A size of a seat with its place: a reading, or a direction between two of them by the fitted oval. */
type PlacedSize = { readonly valueMm: number; readonly at: string | null };

/** The smallest and largest size of a seat: of those read, and of the fitted oval where a part of it lies between them. */
function findBore(compiled: CompiledMeasurement, measurement: FrameMeasurement, seat: Seat): Found {
  const bore = measurement.bores[seat];
  if (bore === null) return NOTHING;
  let smallest: PlacedSize = { valueMm: bore.smallestMm, at: compiled.labels[bore.smallestIndex] ?? null };
  let largest: PlacedSize = { valueMm: bore.largestMm, at: compiled.labels[bore.largestIndex] ?? null };
  for (const { depthMm, fitted } of bore.sections) {
    if (fitted === null) continue;
    const at = (direction: number): string =>
      formatReadingName({ kind: "bore", seat, depthMm, directionDeg: (Math.round(direction / 15) * 15) % 180 });
    if (fitted.smallestMm < smallest.valueMm)
      smallest = { valueMm: fitted.smallestMm, at: at(fitted.smallestDirectionDeg) };
    if (fitted.largestMm > largest.valueMm) largest = { valueMm: fitted.largestMm, at: at(fitted.largestDirectionDeg) };
  }
  return { values: [smallest.valueMm, largest.valueMm], at: [smallest.at, largest.at], reason: NOT_ESTIMABLE };
}

function findOvality(measurement: FrameMeasurement, seat: Seat): Found {
  const bore = measurement.bores[seat];
  if (bore === null || bore.ovalitySection === null) return NOTHING;
  const fitted = bore.sections[bore.ovalitySection]?.largestDirectionDeg ?? 0;
  const direction = (Math.round(fitted / 15) * 15) % 180;
  return single(bore.ovalityUm, `${formatClock(direction)}-${formatClock(direction + 180)}`);
}

function findCoaxiality(measurement: FrameMeasurement, seat: Seat): Found {
  const swept = measurement.swept.find((candidate) => candidate.swept === seat);
  const at = swept?.worst === null || swept === undefined ? null : formatClock(swept.worst.positionDeg);
  return single(swept?.zoneUm, at, swept?.reason);
}

function find(compiled: CompiledMeasurement, measurement: FrameMeasurement, covered: CoveredCharacteristic): Found {
  const { name, seat } = covered;
  if (name === "width") {
    const { width } = measurement;
    if (width === null) return NOTHING;
    const at = [compiled.labels[width.smallestIndex] ?? null, compiled.labels[width.largestIndex] ?? null];
    return { values: [width.smallestMm, width.largestMm], at, reason: NOT_ESTIMABLE };
  }
  if (seat === null) return NOTHING;
  switch (name) {
    case "bore":
      return findBore(compiled, measurement, seat);
    case "ovality":
      return findOvality(measurement, seat);
    case "taper":
      return single(measurement.bores[seat]?.taperUm, null, measurement.features[`${seat}.taper`].reason);
    case "coaxiality":
      return findCoaxiality(measurement, seat);
    case "tilt": {
      const swept = measurement.swept[0];
      return single(seat === "ds" ? swept?.tiltDsArcmin : swept?.tiltNdsArcmin, null, swept?.reason);
    }
    case "face run-out": {
      const face = measurement.faces[seat];
      return single(face?.runOutUm, face === null ? null : formatClock(face.highSideDeg));
    }
  }
}

/** Place of the value that is judged: of two extremes the one closest to a limit or furthest beyond one. */
export function worstPlace(
  values: readonly number[],
  { lower, upper }: Pick<Characteristic, "lower" | "upper">,
): number {
  const margin = (place: number): number => marginToLimits(values[place] ?? 0, lower, upper);
  return values.length > 1 && margin(1) < margin(0) ? 1 : 0;
}

/** Verdict of one value of a characteristic; taper is judged on its size. */
export function verdictOf(
  name: CharacteristicName,
  value: number,
  { lower, upper }: Pick<Characteristic, "lower" | "upper">,
  guard: number,
): Verdict {
  return conformity(name === "taper" ? Math.abs(value) : value, { lower, upper, guard });
}

function missingReading(
  compiled: CompiledMeasurement,
  measurement: FrameMeasurement,
  covered: CoveredCharacteristic,
  { offScale, cannot }: Pick<Against, "offScale" | "cannot">,
): NoValueReason | null {
  if (measurement.missing.length === 0) return null;
  const missing = covered.indices.filter((index) => measurement.missing.includes(index));
  const labels = missing.map((index) => compiled.labels[index] ?? "");
  if (labels.length === 0) return null;
  for (const index of missing) {
    const side = offScale[index] ?? null;
    if (side !== null) return { code: "reading-off-scale", label: compiled.labels[index] ?? "", side };
  }
  return { code: "readings-missing", labels, isSaid: missing.every((index) => cannot[index] === true) };
}

/** A bore that its gauge cannot show, since it is too large or too small for it: it has no value. */
function offTheScale(
  compiled: CompiledMeasurement,
  { name, indices }: CoveredCharacteristic,
  offScale: readonly (OffScale | null)[],
): Found | null {
  if (name !== "bore") return null;
  for (const index of indices) {
    const side = offScale[index] ?? null;
    const label = compiled.labels[index] ?? null;
    if (side !== null) return { values: [], at: [label], reason: { code: "gauge-off-scale", label, side } };
  }
  return null;
}

function codeOf(verdict: Verdict, doubt: JudgingDoubt | null, off: Found | null): Pick<JudgedCharacteristic, "code"> {
  if (verdict === "not measured") return {};
  if (doubt !== null) return { code: doubt.code };
  return off === null ? {} : { code: "off-scale" };
}

/**
 * Verdict after doubts: they turn proof into "not proven". What is not proven by its numbers has a doubt about the readings for its
 * reason, since measuring again is then what helps.
 */
export function doubtedVerdict(
  verdict: Verdict,
  covered: Pick<CoveredCharacteristic, "name" | "seat">,
  doubts: readonly JudgingDoubt[],
): { readonly verdict: Verdict; readonly doubt: JudgingDoubt | null } {
  const doubt = doubts.find(
    ({ name, seat, alsoFailure }) =>
      name === covered.name &&
      seat === covered.seat &&
      (verdict === "conforms" || (alsoFailure && verdict !== "not measured")),
  );
  return doubt === undefined ? { verdict, doubt: null } : { verdict: "not proven", doubt };
}

/**
 * Whether a doubt holds the frame although the characteristic is not critical: one that says so, and every one that takes a proof
 * of nonconformity away. A shell that fails by its numbers does not pass by being warm or by its sweep having slipped.
 */
export function alwaysHoldsBy(doubt: JudgingDoubt | null, byNumbers: Verdict): boolean {
  return doubt !== null && (doubt.holds === true || byNumbers === "does not conform");
}

/** What one characteristic is judged against. */
type Against = {
  readonly drawing: ShellDrawing;
  readonly limits: Characteristic;
  readonly doubts: readonly JudgingDoubt[];
  readonly temperatureC: number | null;
  readonly offScale: readonly (OffScale | null)[];
  readonly cannot: readonly boolean[];
};

function judge(
  compiled: CompiledMeasurement,
  measurement: FrameMeasurement,
  covered: CoveredCharacteristic & { readonly widenedBy?: readonly WideningReason[] },
  { drawing, limits, doubts, temperatureC, offScale, cannot }: Against,
): JudgedCharacteristic {
  const { name, seat, uncertainty, widenedBy = [] } = covered;
  const off = offTheScale(compiled, covered, offScale);
  const found = off ?? find(compiled, measurement, covered);
  const place = worstPlace(found.values, limits);
  const value = found.values[place] ?? null;
  const [smallest, largest] = found.values;
  const valueAt20 = valueAtReference(drawing, name, { value, temperatureC });
  const missing = missingReading(compiled, measurement, covered, { offScale, cannot });
  const guard = guardBand(drawing.decisionRule, uncertainty);
  const numbers: Verdict = value === null ? "not measured" : verdictOf(name, value, limits, guard);
  const byNumbers = off === null ? numbers : "does not conform";
  const { verdict: proper, doubt } = doubtedVerdict(byNumbers, covered, doubts);
  // A size proven beyond a limit stays so, whatever a missing reading would have said.
  const provenAnyway = (name === "bore" || name === "width") && proper === "does not conform";
  const verdict = missing !== null && !provenAnyway && off === null ? "not measured" : proper;
  const reason = verdict === "not measured" ? (missing ?? found.reason) : (doubt?.reason ?? off?.reason);
  return {
    name,
    seat,
    value,
    unit: CHARACTERISTIC_UNIT[name],
    lower: limits.lower,
    upper: limits.upper,
    uncertainty,
    ...(widenedBy.length === 0 ? {} : { widenedBy }),
    ...(valueAt20 === null ? {} : { valueAt20 }),
    verdict,
    critical: limits.critical,
    at: found.at[place] ?? null,
    ...(found.values.length === 2 ? { smallest, largest } : {}),
    ...(reason === undefined ? {} : { reason }),
    ...codeOf(verdict, doubt, off),
    ...(verdict === "not proven" && alwaysHoldsBy(doubt, byNumbers) ? { alwaysHolds: true as const } : {}),
  };
}

/**
 * Whether one verdict holds the frame (consequence of a characteristic): critical holds unless it conforms; another holds
 * when it does not conform or was not measured, and informs when it is not proven, unless its reason always holds.
 */
export function holds(judged: Pick<JudgedCharacteristic, "verdict" | "critical" | "alwaysHolds">): boolean {
  if (judged.verdict === "conforms") return false;
  return judged.critical || judged.alwaysHolds === true || judged.verdict !== "not proven";
}

/** The worst of some characteristics, and whether they hold the frame. */
export function judgementOf(characteristics: readonly JudgedCharacteristic[]): Omit<FrameJudgement, "uncovered"> {
  return {
    verdict: worstVerdict(characteristics.map(({ verdict }) => verdict)),
    holdsFrame: characteristics.length === 0 || characteristics.some(holds),
    characteristics,
  };
}

/**
 * Verdict of a frame: every characteristic for which the plan has readings against its limits and its own uncertainty
 * (ISO 14253-1 with the drawing's decision rule), the worst of them, and whether it holds the frame.
 *
 * @param drawing - the drawing for which `compiled` was made
 * @param compiled - from compileMeasurement
 * @param measurement - from measureFrame with the same compiled plan
 * @param doubts - reasons beside the numbers: lobes that a gauge does not see, a zero that drifted, a sweep that slipped
 * @param beside.temperatureC - of the part, for the value at 20 °C beside a size
 * @param beside.offScale - on which side a reading lies beyond what its gauge can show; [] where none does
 * @param beside.cannot - which readings somebody said cannot be taken; [] where none was
 */
export function judgeFrame(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  measurement: FrameMeasurement,
  doubts: readonly JudgingDoubt[] = [],
  {
    temperatureC = null,
    offScale = [],
    cannot = [],
  }: Partial<Pick<Against, "temperatureC" | "offScale" | "cannot">> = {},
): FrameJudgement {
  const limitsOf = (name: CharacteristicName): Characteristic | undefined =>
    drawing.characteristics.find((candidate) => candidate.name === name);
  const characteristics = compiled.covered.flatMap((covered) => {
    const limits = limitsOf(covered.name);
    return limits === undefined
      ? []
      : [judge(compiled, measurement, covered, { drawing, limits, doubts, temperatureC, offScale, cannot })];
  });
  return {
    ...judgementOf(characteristics),
    uncovered: compiled.uncovered.flatMap(({ name, seat, reason }) =>
      reason !== null && limitsOf(name)?.critical === true ? [{ name, seat, reason }] : [],
    ),
  };
}
