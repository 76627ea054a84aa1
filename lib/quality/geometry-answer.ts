import type { Estimate } from "../core/errors";
import { frameSections } from "../core/metrology/frame-sections";
import { compileMeasurement, type CompiledMeasurement, type FrameMeasurement } from "../core/metrology/measure-frame";
import { monteCarloFunctionalSize } from "../core/metrology/monte-carlo-functional-size";
import { monteCarloUncertainty, type DrawnFeature } from "../core/metrology/monte-carlo-uncertainty";
import { clockOf, pointsFromPolar, type PlanePoint } from "../core/metrology/plane-point";
import {
  formatReadingName,
  parseReadingName,
  type BarPassage,
  type PlugFeel,
  type ReadingName,
  type Seat,
} from "../core/metrology/reading-name";
import { referenceCircles, type Circle } from "../core/metrology/reference-circles";
import { type ShellDrawing } from "../core/metrology/shell-drawing";
import { FEATURE_NAMES } from "../core/metrology/features";
import { createSeededGenerator } from "../core/numerics/seeded-generator";
import { CORE_VERSION } from "../core/version";
import { feltOf } from "./felt-evidence";
import { frameMeaning, type FrameMeaning } from "./frame-meaning";
import { blindnessDoubts, clippedDoubts, clippedSweeps, contactPrinciples } from "./gauge-doubts";
import type { FrameJudgement } from "./judge-frame";
import { judgeInspection } from "./judge-inspection";
import type { JudgingDoubt } from "./judging-doubt";

/** What is asked of one shell's readings. */
export type GeometryQuestion = {
  readonly drawing: ShellDrawing;
  readonly readings: Readonly<Record<string, number | null>>;
  readonly plugs?: Readonly<Record<string, PlugFeel>>;
  /** Passage of the bar of one set, taken for set A; of several by their names, "bar.SET". */
  readonly bar?: BarPassage;
  readonly bars?: Readonly<Record<string, BarPassage>>;
  /** Contact principle by kind of reading, in the words of contactPrinciples. */
  readonly gauges?: Readonly<Partial<Record<"bore" | "sweep" | "face", string | undefined>>>;
  /** Of the shell while it was measured, °C. */
  readonly temperatureC?: number | undefined;
  readonly monteCarlo?: { readonly draws: number; readonly seed: number };
};

/** A name that is none, or whose reading cannot be, with what is wrong with it. */
export type NameProblem = { readonly name: string } &
  /** `why` as the reader of names says it. */
  (
    | { readonly code: "no-name"; readonly why: string }
    | { readonly code: "length-beyond"; readonly mostMm: number; readonly value: number }
    | { readonly code: "deviation-beyond"; readonly mostUm: number; readonly value: number }
    | { readonly code: "given-twice"; readonly before: string }
    | { readonly code: "too-deep"; readonly seatDepthMm: number }
    | { readonly code: "not-a-reading" | "not-a-plug" | "not-a-bar" | "bar-of-a-twice" }
  );

/** A circle by its centre towards 12 and towards 3 o'clock, µm from the axis of rotation, and its deviation, µm. */
export type AnsweredCircle = {
  readonly towards12Um: number;
  readonly towards3Um: number;
  readonly distanceUm: number;
  readonly clockDeg: number;
  /** Radius less the mean of the sweep, µm: a sweep has an arbitrary zero. */
  readonly radiusUm: number;
};

/** Why a section has no reference circles, or no minimum zone; `why` as the computation gives it. */
export type NoCircleReason =
  | { readonly code: "few-points"; readonly needed: number; readonly points: number }
  | { readonly code: "not-given"; readonly why: string };

/** Reference circles of one swept section (ISO 12181-1); null where there are too few points, with the reason. */
export type SectionCircles = {
  readonly seat: Seat;
  readonly depthMm: number;
  readonly leastSquares: AnsweredCircle | null;
  readonly minimumZoneUm: number | null;
  readonly minimumZone: AnsweredCircle | null;
  readonly minimumCircumscribed: AnsweredCircle | null;
  readonly maximumInscribed: AnsweredCircle | null;
  readonly reason: NoCircleReason | null;
};

export type GeometryAnswer = {
  readonly coreVersion: string;
  readonly features: Readonly<Record<string, { readonly value: number | null; readonly reason: string | null }>>;
  readonly verdict: FrameJudgement["verdict"];
  readonly holds: boolean;
  readonly characteristics: FrameJudgement["characteristics"];
  readonly uncovered: FrameJudgement["uncovered"];
  readonly details: Pick<FrameMeasurement, "bores" | "swept" | "faces" | "width">;
  readonly warnings: FrameMeasurement["warnings"];
  readonly circles: readonly SectionCircles[];
  readonly meaning: FrameMeaning;
  readonly monteCarlo: {
    readonly alignment: ReturnType<typeof monteCarloUncertainty> | null;
    /** Null where the readings place no pair of seats. */
    readonly functionalSize: Estimate<DrawnFeature> | null;
  } | null;
};

function answered({ centre, radius }: Circle, nominalRadiusMm: number): AnsweredCircle {
  return {
    towards12Um: centre.y * 1000,
    towards3Um: centre.z * 1000,
    distanceUm: Math.hypot(centre.y, centre.z) * 1000,
    clockDeg: clockOf(centre),
    radiusUm: (radius - nominalRadiusMm) * 1000,
  };
}

type Sweep = { readonly seat: Seat; readonly depthMm: number; readonly angles: number[]; readonly values: number[] };

function sweepsOf(compiled: CompiledMeasurement, values: readonly (number | null)[]): Sweep[] {
  const sweeps = new Map<string, Sweep>();
  compiled.names.forEach((name, index) => {
    const value = values[index];
    // The closing reading repeats the first: it is a check, no point of the section.
    if (name.kind !== "sweep" || value === null || value === undefined || name.angleDeg === 360) return;
    const key = `${name.seat} ${name.depthMm}`;
    const sweep = sweeps.get(key) ?? { seat: name.seat, depthMm: name.depthMm, angles: [], values: [] };
    sweep.angles.push(name.angleDeg);
    sweep.values.push(value);
    sweeps.set(key, sweep);
  });
  return [...sweeps.values()];
}

const MIN_POINTS = 4;

function circlesOf({ seat, depthMm, angles, values }: Sweep, nominalRadiusMm: number): SectionCircles {
  const none = {
    leastSquares: null,
    minimumZoneUm: null,
    minimumZone: null,
    minimumCircumscribed: null,
    maximumInscribed: null,
  };
  if (values.length < MIN_POINTS)
    return {
      seat,
      depthMm,
      ...none,
      reason: { code: "few-points", needed: MIN_POINTS, points: values.length },
    };
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const points: PlanePoint[] = pointsFromPolar(
    angles,
    values.map((value) => nominalRadiusMm + (value - mean) / 1000),
  );
  const circles = referenceCircles(points);
  const of = (circle: Circle): AnsweredCircle => answered(circle, nominalRadiusMm);
  const zone = circles.minimumZone;
  return {
    seat,
    depthMm,
    leastSquares: of(circles.leastSquares),
    minimumZoneUm: zone.ok ? zone.value.zone * 1000 : null,
    minimumZone: zone.ok
      ? of({ centre: zone.value.centre, radius: (zone.value.outerRadius + zone.value.innerRadius) / 2 })
      : null,
    minimumCircumscribed: of(circles.minimumCircumscribed),
    maximumInscribed: circles.maximumInscribed.ok ? of(circles.maximumInscribed.value) : null,
    reason: zone.ok ? null : { code: "not-given", why: zone.reason },
  };
}

/** Largest size of a reading that any shell could give: mm for bores and widths, µm for sweeps and faces. */
const MOST = { mm: 1000, um: 100_000 } as const;

function sizeProblems(readings: GeometryQuestion["readings"]): NameProblem[] {
  return Object.entries(readings).flatMap(([text, value]): NameProblem[] => {
    const name = parseReadingName(text);
    if (!name.ok || value === null) return [];
    const isLength = name.value.kind === "bore" || name.value.kind === "width";
    if (isLength && !(value > 0 && value <= MOST.mm))
      return [{ name: text, code: "length-beyond", mostMm: MOST.mm, value }];
    if (!isLength && !(Math.abs(value) <= MOST.um))
      return [{ name: text, code: "deviation-beyond", mostUm: MOST.um, value }];
    return [];
  });
}

/** One place can be written in two ways (12-6 and 6-12): both with a value cannot be. */
function sameProblems(readings: Readonly<Record<string, unknown>>): NameProblem[] {
  const first = new Map<string, string>();
  return Object.keys(readings).flatMap((text) => {
    const name = parseReadingName(text);
    if (!name.ok) return [];
    const key = formatReadingName(name.value);
    const before = first.get(key);
    if (before !== undefined) return [{ name: text, code: "given-twice", before }];
    first.set(key, text);
    return [];
  });
}

/** Sections lie inside the seat: a depth beyond it is a slip, and far enough in it would be the other seat's place. */
function depthProblems(readings: GeometryQuestion["readings"], { seatDepthMm }: ShellDrawing): NameProblem[] {
  return Object.keys(readings).flatMap((text) => {
    const name = parseReadingName(text);
    if (!name.ok || !("depthMm" in name.value) || name.value.depthMm <= seatDepthMm) return [];
    return [{ name: text, code: "too-deep", seatDepthMm }];
  });
}

const NOT_OF_KIND = { reading: "not-a-reading", plug: "not-a-plug", bar: "not-a-bar" } as const;

/** Passages of bars by reading name. */
function barsOf({ bar, bars }: Pick<GeometryQuestion, "bar" | "bars">): Readonly<Record<string, BarPassage>> {
  return { ...bars, ...(bar === undefined ? {} : { "bar.A": bar }) };
}

/** Names of readings and plugs that are none, places given twice or outside the seat, and sizes that no shell has. */
export function nameProblems(
  question: Pick<GeometryQuestion, "drawing" | "readings" | "plugs" | "bar" | "bars">,
): NameProblem[] {
  const wrong = (text: string, kind: "reading" | "plug" | "bar"): NameProblem[] => {
    const name = parseReadingName(text);
    if (!name.ok) return [{ name: text, code: "no-name", why: name.reason }];
    const given = name.value.kind === "plug" || name.value.kind === "bar" ? name.value.kind : "reading";
    return given === kind ? [] : [{ name: text, code: NOT_OF_KIND[kind] }];
  };
  const twice =
    question.bar !== undefined && Object.keys(question.bars ?? {}).some((text) => text.toLowerCase() === "bar.a");
  return [
    ...Object.keys(question.readings).flatMap((text) => wrong(text, "reading")),
    ...Object.keys(question.plugs ?? {}).flatMap((text) => wrong(text, "plug")),
    ...Object.keys(question.bars ?? {}).flatMap((text) => wrong(text, "bar")),
    ...(twice ? [{ name: "bar.A", code: "bar-of-a-twice" } as const] : []),
    ...sameProblems(question.plugs ?? {}),
    ...sizeProblems(question.readings),
    ...sameProblems(question.readings),
    ...depthProblems(question.readings, question.drawing),
  ];
}

/**
 * Everything that the readings of one shell give: features, verdicts, reference circles, meaning, uncertainty.
 *
 * @param question - every reading's name parses (nameProblems is empty); mm and µm as in measurement files
 * @returns plain data; what is not estimable has a code
 * @throws CoreError on readings or a drawing that cannot be (duplicate angles, a wall without thickness ...)
 */
export function geometryAnswer(question: GeometryQuestion): GeometryAnswer {
  const { drawing, readings } = question;
  const bars = barsOf(question);
  const asked = [readings, question.plugs ?? {}, bars].flatMap((given) => Object.keys(given));
  const names = asked.flatMap((text): ReadingName[] => {
    const name = parseReadingName(text);
    return name.ok ? [name.value] : [];
  });
  const values = asked.map((text) => readings[text] ?? null);
  const compiled = compileMeasurement(names, drawing);
  const felt = feltOf({ plugs: question.plugs, bars });
  const doubts: readonly JudgingDoubt[] = [
    ...clippedDoubts(compiled, clippedSweeps(names, values, [])),
    ...blindnessDoubts(compiled, contactPrinciples(names, gaugesOf(names, question.gauges ?? {}))),
  ];
  const { measurement, judgement } = judgeInspection({
    key: "",
    label: "",
    drawing,
    compiled,
    readings: values,
    offScale: [],
    planCounts: true,
    felt,
    temperatureC: question.temperatureC ?? null,
    doubts,
  });
  const { bores, swept, faces, width, warnings } = measurement;
  return {
    coreVersion: CORE_VERSION,
    features: Object.fromEntries(FEATURE_NAMES.map((name) => [name, measurement.features[name]])),
    verdict: judgement.verdict,
    holds: judgement.holdsFrame,
    characteristics: judgement.characteristics,
    uncovered: judgement.uncovered,
    details: { bores, swept, faces, width },
    warnings,
    circles: sweepsOf(compiled, values).map((sweep) => circlesOf(sweep, drawing.nominalBoreMm / 2)),
    meaning: frameMeaning(drawing, {
      measurement,
      uncertainties: compiled.covered,
      ...felt,
    }),
    monteCarlo: question.monteCarlo === undefined ? null : drawnUncertainty(question, compiled, measurement, values),
  };
}

function gaugesOf(names: readonly ReadingName[], gauges: NonNullable<GeometryQuestion["gauges"]>) {
  return names.map(({ kind }) => {
    const principle = kind === "bore" || kind === "sweep" || kind === "face" ? gauges[kind] : undefined;
    return principle === undefined ? null : { kind, principle };
  });
}

function drawnUncertainty(
  { drawing, monteCarlo }: GeometryQuestion,
  compiled: CompiledMeasurement,
  measurement: FrameMeasurement,
  values: readonly (number | null)[],
): GeometryAnswer["monteCarlo"] {
  const { draws, seed } = monteCarlo ?? { draws: 100, seed: 0 };
  const generator = createSeededGenerator(seed);
  const design = compiled.designs.swept[0];
  const sections = measurement.swept[0]?.sections ?? [];
  const complete = design !== undefined && sections.length > 0 && sections.every((section) => section.fit !== null);
  const centres = sections.map(({ xMm, fit }) => ({
    xMm,
    yMm: (fit?.towards12Um ?? 0) / 1000,
    zMm: (fit?.towards3Um ?? 0) / 1000,
  }));
  const placed = frameSections(drawing, measurement).length > 0;
  return {
    alignment: complete && design ? monteCarloUncertainty(design, drawing, { centres, draws, generator }) : null,
    functionalSize: placed ? monteCarloFunctionalSize(drawing, compiled, values, { draws, generator }) : null,
  };
}
