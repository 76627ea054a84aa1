import { CoreError } from "../errors";
import { type BoreMeasurement, measureBore } from "./bore-seat";
import { type FaceDesign, type FaceMeasurement, measureFace } from "./face-sweep";
import { type FeltCoverage, feltCoverage } from "./felt-coverage";
import { type Coverage, coverageOf, designFrame, type FrameDesigns } from "./frame-designs";
import {
  type MeasurementWarning,
  reversedSweepWarnings,
  unseenDirections,
  type UnseenDirection,
  sweepWarnings,
  widthAgainstFaces,
  widthCheckLimitUm,
} from "./measurement-checks";
import type { FormAllowance } from "./plan-blindness";
import { formatReadingName, type ReadingName, type Seat } from "./reading-name";
import { CHARACTERISTIC_NAMES, type CharacteristicName, type ShellDrawing } from "./shell-drawing";
import { FEATURE_NAMES, type FeatureName } from "./features";
import type { TemperatureRule } from "./reference-temperature";
import { measureWidth, type WidthMeasurement } from "./shell-width";
import { DEFAULT_CLOSING_LIMIT_UM } from "./sweep-harmonics";
import { measureSweptSeat, type SweptSeatMeasurement } from "./swept-seat";
import { uncertaintyOfDesigns } from "./uncertainty-budget";

/** A characteristic that the plan gives: its due readings and its U (k = 2) under this plan, in its unit. */
export type CoveredCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly indices: readonly number[];
  readonly uncertainty: number;
  /** True where no reading gives it and plugs or the bar bound it: then U is that of a bound. */
  readonly felt?: true;
  /** The part of U by what the plan cannot see (k = 2). */
  readonly unseen: number;
};

/** What a plan says of its measuring beside its readings. */
export type MeasuringOptions = {
  /** Largest closing error of a sweep, µm. */
  readonly closingLimitUm?: number;
  /** How far the form may go that the plan does not see, where the stream's full plans show it. */
  readonly form?: FormAllowance;
  /** Where sizes may be measured; the usual range where it is left out. */
  readonly temperature?: TemperatureRule;
};

/** Everything about a plan and a drawing that does not change from frame to frame. */
export type CompiledMeasurement = {
  readonly names: readonly ReadingName[];
  /** The one spelling of each reading. */
  readonly labels: readonly string[];
  readonly designs: FrameDesigns;
  readonly covered: readonly CoveredCharacteristic[];
  /** What plugs and bar of the plan bound, beside readings or instead of them. */
  readonly felt: readonly FeltCoverage[];
  /** Characteristics of the drawing that the plan cannot give. */
  readonly uncovered: readonly Coverage[];
  readonly faceDiameterRatio: number;
  readonly faceSweepRadiusMm: number;
  readonly widthCheckLimitUm: number | null;
  readonly closingLimitUm: number;
  readonly options: MeasuringOptions;
};

/** A feature, or why there is none. */
export type FeatureValue =
  { readonly value: number; readonly reason: null } | { readonly value: null; readonly reason: string };

/** What the readings of one inspection say. */
export type FrameMeasurement = {
  readonly features: Readonly<Record<FeatureName, FeatureValue>>;
  /** Places of due readings (plug and bar aside) without a value. */
  readonly missing: readonly number[];
  readonly bores: Readonly<Record<Seat, BoreMeasurement | null>>;
  /** One per swept seat, NDS first; the first gives offset and tilts. */
  readonly swept: readonly SweptSeatMeasurement[];
  readonly faces: Readonly<Record<Seat, FaceMeasurement | null>>;
  readonly width: WidthMeasurement | null;
  readonly warnings: readonly MeasurementWarning[];
};

/** By the order in which drawings list characteristics; seats as they come. */
function inDrawingOrder(covered: readonly CoveredCharacteristic[]): CoveredCharacteristic[] {
  const place = ({ name }: CoveredCharacteristic): number => CHARACTERISTIC_NAMES.indexOf(name);
  return [...covered].sort((a, b) => place(a) - place(b));
}

/**
 * Prepares a plan for measuring: designs, uncertainties, coverage, once per plan revision and drawing.
 *
 * @param names - readings in the order in which values will come
 * @param drawing - the shell drawing
 * @param options.closingLimitUm - largest closing error of a sweep, default DEFAULT_CLOSING_LIMIT_UM
 * @param options.form - how far the form may go that the plan does not see; of the drawing's limits where it is not known
 * @throws CoreError duplicate, out-of-range on wrong names
 */
export function compileMeasurement(
  names: readonly ReadingName[],
  drawing: ShellDrawing,
  options: MeasuringOptions = {},
): CompiledMeasurement {
  const designs = designFrame(names, drawing);
  const coverage = coverageOf(designs).filter(({ name }) => drawing.characteristics.some((c) => c.name === name));
  const uncertainties = uncertaintyOfDesigns(designs, drawing, options.form);
  const felt = feltCoverage(names, drawing);
  const read = uncertainties.map(({ name, seat, uncertainty, unseen }): CoveredCharacteristic => {
    const due = coverage.find((c) => c.name === name && c.seat === seat);
    return { name, seat, uncertainty, unseen, indices: due?.indices ?? [] };
  });
  // A sweep gives coaxiality of the seat that it is of; the bar cannot add that of the other one.
  const onlyFelt = felt.filter(
    ({ name, seat }) => !read.some((one) => one.name === name && (one.seat === seat || name === "coaxiality")),
  );
  return {
    names: [...names],
    labels: names.map(formatReadingName),
    designs,
    covered: inDrawingOrder([
      ...read,
      ...onlyFelt.map((one): CoveredCharacteristic => ({ ...one, unseen: 0, felt: true })),
    ]),
    felt,
    uncovered: coverage.filter(
      ({ name, seat, reason }) =>
        reason !== null && !onlyFelt.some((bounded) => bounded.name === name && bounded.seat === seat),
    ),
    faceDiameterRatio: drawing.faceLimitDiameterMm / drawing.faceSweepDiameterMm,
    faceSweepRadiusMm: drawing.faceSweepDiameterMm / 2,
    widthCheckLimitUm: widthCheckLimitUm(designs, drawing),
    closingLimitUm: options.closingLimitUm ?? DEFAULT_CLOSING_LIMIT_UM,
    options,
  };
}

function assertValues(compiled: CompiledMeasurement, values: readonly (number | null)[]): number[] {
  if (values.length !== compiled.names.length)
    throw new CoreError(
      "length-mismatch",
      `measureFrame: values must be as many as the plan's readings, ${compiled.names.length}; got ${values.length}`,
      { expected: compiled.names.length, got: values.length },
    );
  const missing: number[] = [];
  for (let i = 0; i < values.length; i += 1) {
    const value = values[i]!;
    if (value === null) {
      const { kind } = compiled.names[i]!;
      if (kind !== "plug" && kind !== "bar") missing.push(i);
    } else if (!Number.isFinite(value))
      throw new CoreError("not-finite", `measureFrame: values must be finite or null; got ${value} (at index ${i})`, {
        index: i,
        reading: compiled.labels[i],
      });
  }
  return missing;
}

const NOT_IN_PLAN: FeatureValue = { value: null, reason: "the plan has no readings for it" };
const ALL_MISSING: FeatureValue = { value: null, reason: "its readings are missing" };
const ONE_DIRECTION: FeatureValue = { value: null, reason: "not estimable: no section has two directions" };
const ONE_DEPTH: FeatureValue = { value: null, reason: "not estimable: diameters at one depth only" };

function given(value: number): FeatureValue {
  return { value, reason: null };
}

type FeatureTable = Partial<Record<FeatureName, FeatureValue>>;

function boreFeatures(table: FeatureTable, seat: Seat, bore: BoreMeasurement | null, planned: boolean): void {
  const none = planned ? ALL_MISSING : NOT_IN_PLAN;
  table[`${seat}.bore.smallest`] = bore === null ? none : given(bore.smallestMm);
  table[`${seat}.bore.largest`] = bore === null ? none : given(bore.largestMm);
  table[`${seat}.bore.mean`] = bore === null ? none : given(bore.meanMm);
  table[`${seat}.bore.range`] = bore === null ? none : given(bore.rangeUm);
  table[`${seat}.ovality`] = bore === null ? none : bore.ovalityUm === null ? ONE_DIRECTION : given(bore.ovalityUm);
  table[`${seat}.taper`] = bore === null ? none : bore.taperUm === null ? ONE_DEPTH : given(bore.taperUm);
}

function sweptFeatures(table: FeatureTable, swept: SweptSeatMeasurement | undefined): void {
  const or = (value: number | null): FeatureValue => {
    if (swept === undefined) return NOT_IN_PLAN;
    return value === null ? { value: null, reason: swept.reason ?? "not estimable" } : given(value);
  };
  table.coaxiality = or(swept?.zoneUm ?? null);
  table["offset.12"] = or(swept?.offset12Um ?? null);
  table["offset.3"] = or(swept?.offset3Um ?? null);
  table["ds.tilt"] = or(swept?.tiltDsArcmin ?? null);
  table["nds.tilt"] = or(swept?.tiltNdsArcmin ?? null);
  table["coaxiality.common"] = or(swept?.commonZoneUm ?? null);
}

function widthFeatures(table: FeatureTable, width: WidthMeasurement | null, planned: boolean): void {
  const none = planned ? ALL_MISSING : NOT_IN_PLAN;
  table["width.smallest"] = width === null ? none : given(width.smallestMm);
  table["width.largest"] = width === null ? none : given(width.largestMm);
  table["width.mean"] = width === null ? none : given(width.meanMm);
}

/** Features of the face, its measurement, and a warning where a reading does not fit the others. */
function takeFace(
  table: FeatureTable,
  seat: Seat,
  design: FaceDesign | null,
  values: readonly (number | null)[],
  ratio: number,
  warnings: MeasurementWarning[],
): FaceMeasurement | null {
  if (design === null) {
    table[`${seat}.face`] = NOT_IN_PLAN;
    return null;
  }
  const face = measureFace(design, values, ratio);
  if (!face.ok) {
    table[`${seat}.face`] = { value: null, reason: `not estimable: ${face.reason}` };
    return null;
  }
  table[`${seat}.face`] = given(face.value.runOutUm);
  if (face.value.outlierIndex !== null)
    warnings.push({
      code: "face-outlier",
      seat,
      depthMm: null,
      readingIndex: face.value.outlierIndex,
      value: face.value.outlierDeviationUm ?? 0,
      limit: null,
    });
  return face.value;
}

/**
 * All features of one frame from the readings of one inspection.
 *
 * @param compiled - from compileMeasurement
 * @param values - one per reading of the plan: bores and widths mm, sweeps and faces µm; null where it was not taken (plug
 *   and bar have words elsewhere and are null here)
 * @returns every feature as a value or a reason, sections, fits, faces, widths, and doubts. A feature of which some readings
 *   are missing is still computed from the others; whether that may be judged is for the judge to say (`missing`).
 * @throws CoreError length-mismatch; not-finite
 * Accuracy: 1e-9 mm on synthetic seats (tests/core/metrology/measure-frame.test.ts).
 */
export function measureFrame(compiled: CompiledMeasurement, values: readonly (number | null)[]): FrameMeasurement {
  const missing = assertValues(compiled, values);
  const { designs } = compiled;
  const warnings: MeasurementWarning[] = [];
  const table: FeatureTable = {};
  const bores = {
    ds: designs.bores.ds === null ? null : measureBore(designs.bores.ds, values),
    nds: designs.bores.nds === null ? null : measureBore(designs.bores.nds, values),
  };
  boreFeatures(table, "ds", bores.ds, designs.bores.ds !== null);
  boreFeatures(table, "nds", bores.nds, designs.bores.nds !== null);
  const swept: SweptSeatMeasurement[] = [];
  for (const design of designs.swept) {
    const measured = measureSweptSeat(design, values, compiled.closingLimitUm);
    swept.push(measured);
    warnings.push(...sweepWarnings(design, measured, values, compiled.closingLimitUm));
    warnings.push(...reversedSweepWarnings(design, measured, bores[design.swept]));
  }
  sweptFeatures(table, swept[0]);
  const faces = {
    ds: takeFace(table, "ds", designs.faces.ds, values, compiled.faceDiameterRatio, warnings),
    nds: takeFace(table, "nds", designs.faces.nds, values, compiled.faceDiameterRatio, warnings),
  };
  const width = designs.width === null ? null : measureWidth(designs.width, values);
  widthFeatures(table, width, designs.width !== null);
  const check = { limitUm: compiled.widthCheckLimitUm, radiusMm: compiled.faceSweepRadiusMm };
  warnings.push(...widthAgainstFaces(width, faces, swept[0], check));
  return { features: table as Record<FeatureName, FeatureValue>, missing, bores, swept, faces, width, warnings };
}

/**
 * Sweeps whose readings cannot tell which way round they were keyed.
 *
 * @param measurement - of the same plan
 */
export function unseenSweepDirections(
  { designs }: CompiledMeasurement,
  { bores, swept }: FrameMeasurement,
): UnseenDirection[] {
  return designs.swept.flatMap((design, place) => {
    const measured = swept[place];
    return measured === undefined ? [] : unseenDirections(design, measured, bores[design.swept]);
  });
}

/** The features as a row: one number or null per FEATURE_NAMES, in that order, for storage. */
export function featureRow(measurement: FrameMeasurement): (number | null)[] {
  return FEATURE_NAMES.map((name) => measurement.features[name].value);
}
