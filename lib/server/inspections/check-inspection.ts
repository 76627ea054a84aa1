import "server-only";
import { formatMoment } from "@/lib/format/date-text";
import { AppError, type FieldProblem } from "@/lib/errors";
import { beyondRange, reachesLimits, takesReading } from "@/lib/core/metrology/gauge-range";
import { implausibleReadings, questionReading } from "@/lib/core/metrology/reading-plausibility";
import { parseReadingName, READING_UNIT, type ReadingName } from "@/lib/core/metrology/reading-name";
import type { JudgingDoubt } from "@/lib/quality/judging-doubt";
import { READING_STATES, type ReadingState, type RecordInspection } from "@/lib/schemas/inspection";
import { contentHash, Written } from "../journal/canonical-json";
import { gaugeDoubts, overdueAmong } from "../evidence/gauge-use";
import {
  assertDeviceInUse,
  inspectorOf,
  type GaugeReference,
  type InspectorReference,
  type PlanReference,
  type ReferenceData,
  type StationReference,
} from "../evidence/reference-data";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.checkInspection;

/** An inspection whose every part is known and plausible, ready to be judged and stored. */
export type CheckedInspection = {
  readonly input: RecordInspection;
  readonly station: StationReference;
  readonly plan: PlanReference;
  readonly inspector: InspectorReference | null;
  /** By the codes that its readings name, where several measured. */
  readonly inspectors: ReadonlyMap<string, InspectorReference>;
  readonly gaugeKeys: readonly string[];
  /** Index into gaugeKeys a reading, -1 where the reading has no gauge; [] where no gauge was named. */
  readonly gauges: readonly number[];
  readonly overdueGauges: readonly string[];
  readonly offsetsMs: readonly number[];
  readonly doubts: readonly JudgingDoubt[];
  readonly states: readonly number[];
  readonly deviceTime: Date;
  readonly measuredAt: Date;
  readonly contentHash: Buffer;
  /** The readings' text, for the hashes and the row. */
  readonly readings: Written;
  readonly warnings: readonly string[];
};

const stateCode = (state: ReadingState): number => READING_STATES.indexOf(state);
const AHEAD_ALLOWED_MS = 5 * 60_000;
/** Before this a clock was never set. */
const EARLIEST_TIME = Date.parse("2000-01-01T00:00:00Z");
const KEPT = "Nothing was stored; the readings are still where they were sent from.";

function findStation(input: RecordInspection, reference: ReferenceData): StationReference {
  const station = reference.stations.get(input.stationId);
  if (!station) throw new AppError("not-found", words.stationIsNotKnown(input.stationId));
  if (!station.active) throw new AppError("refused", words.stationIsOutOfUse(station.key));
  return station;
}

function findPlan(input: RecordInspection, reference: ReferenceData): PlanReference {
  const plan = reference.plans.get(input.planRevisionId);
  if (plan) return plan;
  throw new AppError("not-found", words.measuringPlanRevision(input.planRevisionId));
}

/** What the state of one reading says against its value, or against what is read. */
function stateProblem(state: ReadingState, value: number | null, name: ReadingName, label: string): string | null {
  switch (state) {
    case "measured":
      return null;
    case "cannot":
      return value === null ? null : words.isMarkedAsImpossible(label, value);
    case "confirmed":
      return value === null ? words.isMarkedAsConfirmed(label) : null;
    case "off-scale-large":
    case "off-scale-small":
      if (name.kind !== "bore") return words.cannotBeOffScale(label);
      return value === null ? null : words.isMarkedAsOffScale(label, value);
  }
}

/** Problems of shape that need the plan: lengths, states that do not go with their values. */
function shapeProblems(input: RecordInspection, plan: PlanReference): FieldProblem[] {
  const asked = plan.readingNames.length;
  if (input.readings.length !== asked)
    return [
      {
        path: "readings",
        message: words.planRevisionAsksForReadings(plan.planKey, plan.revision, asked, input.readings.length),
      },
    ];
  const problems: FieldProblem[] = [];
  const sameLength = (path: string, list: readonly unknown[] | undefined): void => {
    if (list !== undefined && list.length !== asked)
      problems.push({ path, message: words.mustHaveOneEntryReading(asked, list.length) });
  };
  sameLength("states", input.states);
  sameLength("offsetsMs", input.offsetsMs);
  if (Array.isArray(input.gauges)) sameLength("gauges", input.gauges);
  input.states?.forEach((state, index) => {
    const name = plan.names[index];
    if (name === undefined) return;
    const message = stateProblem(state, input.readings[index] ?? null, name, plan.readingNames[index] ?? "");
    if (message !== null) problems.push({ path: `readings.${index}`, message });
  });
  input.superseded?.forEach((entry, index) => {
    if (entry.index >= asked)
      problems.push({ path: `superseded.${index}.index`, message: words.mustBeBelowGot(asked, entry.index) });
  });
  input.attributes?.inspectors?.forEach(({ from }, index) => {
    if (from >= asked)
      problems.push({ path: `attributes.inspectors.${index}.from`, message: words.mustBeBelowGotFrom(asked, from) });
  });
  return [...problems, ...feltProblems(input)];
}

/** Trials whose names are none: what was felt must not be left out in silence. */
function feltProblems({ attributes = {} }: RecordInspection): FieldProblem[] {
  const wrong = (kind: "plug" | "bar", names: readonly string[], rule: string): FieldProblem[] =>
    names.flatMap((text) => {
      const name = parseReadingName(text);
      const path = `attributes.${kind}s.${text}`;
      return name.ok && name.value.kind === kind ? [] : [{ path, message: words.mustName(text, kind, rule) }];
    });
  return [
    ...wrong("plug", Object.keys(attributes.plugs ?? {}), "(ds|nds).plug.SIZE"),
    ...wrong("bar", Object.keys(attributes.bars ?? {}), "bar.SET"),
  ];
}

/** The gauge of a reading where it can measure that feature: beyond its range the number cannot have come from it. */
function suitedGauge(name: ReadingName, gauge: GaugeReference | undefined, plan: PlanReference): GaugeReference | null {
  if (gauge === undefined || !takesReading(gauge, name.kind)) return null;
  const limits = plan.drawing.characteristics.find((one) => one.name === name.kind);
  return limits === undefined || reachesLimits(gauge.range, limits) ? gauge : null;
}

/** Values that cannot be, whatever anybody confirms: beyond what the gauge can show, or what a shell can be. */
function impossibleProblems(
  input: RecordInspection,
  plan: PlanReference,
  { gaugeKeys, gauges }: Pick<CheckedInspection, "gaugeKeys" | "gauges">,
  reference: ReferenceData,
): FieldProblem[] {
  const problem = (index: number, text: string): FieldProblem => ({
    path: `readings.${index}`,
    message: `${plan.readingNames[index] ?? ""}: ${text}`,
  });
  const implausible = implausibleReadings(plan.drawing, plan.names, input.readings);
  const known = gaugeKeys.map((key) => reference.gauges.get(key));
  const isBeyond = (value: number | null, index: number): boolean =>
    value !== null && beyondRange(known[gauges[index] ?? -1]?.range ?? null, value) !== null;
  // Nearly always none: asked in words only where there is one.
  if (implausible.length === 0 && !input.readings.some(isBeyond)) return [];
  const asked = new Set(implausible.map(({ index }) => index));
  const beyond = plan.names.flatMap((name, index) => {
    const value = input.readings[index] ?? null;
    if (value === null || asked.has(index) || !isBeyond(value, index)) return [];
    const gauge = suitedGauge(name, known[gauges[index] ?? -1], plan);
    const question = gauge === null ? null : questionReading(plan.drawing, name, value, { gauge });
    return question === null ? [] : [problem(index, question.text)];
  });
  return [...implausible.map(({ index, question }) => problem(index, question.text)), ...beyond];
}

function findGauges(
  input: RecordInspection,
  reference: ReferenceData,
  measuredAt: Date,
): Pick<CheckedInspection, "gaugeKeys" | "gauges" | "overdueGauges"> {
  if (input.gauges === undefined) return { gaugeKeys: [], gauges: [], overdueGauges: [] };
  const perReading = Array.isArray(input.gauges) ? input.gauges : input.readings.map(() => input.gauges as string);
  const gaugeKeys = [...new Set(perReading.filter((key): key is string => key !== null))];
  for (const key of gaugeKeys)
    if (!reference.gauges.has(key)) throw new AppError("not-found", words.gaugeIsNotKnown(key));
  return {
    gaugeKeys,
    gauges: perReading.map((key) => (key === null ? -1 : gaugeKeys.indexOf(key))),
    overdueGauges: overdueAmong(gaugeKeys, reference, measuredAt),
  };
}

/** Who measured: who finished it, and, where several did, who took which readings from which place on. */
function findInspectors(
  input: RecordInspection,
  reference: ReferenceData,
  measuredAt: Date,
): Pick<CheckedInspection, "inspector" | "inspectors"> {
  const of = (code: string): InspectorReference => inspectorOf(code, reference, measuredAt, KEPT);
  return {
    inspector: input.inspectorCode === undefined ? null : of(input.inspectorCode),
    inspectors: new Map(
      [
        ...(input.attributes?.inspectors ?? []).map(({ code }) => code),
        ...(input.superseded ?? []).flatMap(({ by }) => by ?? []),
      ].map((code) => [code, of(code)]),
    ),
  };
}

function correctedTime(
  input: RecordInspection,
  { zone }: Pick<ReferenceData, "zone">,
  now: Date,
): { deviceTime: Date; measuredAt: Date } {
  const deviceTime = new Date(input.deviceTime);
  const measuredAt = new Date(deviceTime.getTime() - (input.clockSkewMs ?? 0));
  if (measuredAt.getTime() < EARLIEST_TIME)
    throw new AppError(
      "invalid-input",
      words.timeOfInspection(formatMoment(measuredAt, { zone })) + words.setDevicesClock,
      { details: { clock: true }, fields: [{ path: "deviceTime", message: words.mustNotLieBeforeYear }] },
    );
  if (measuredAt.getTime() - now.getTime() > AHEAD_ALLOWED_MS)
    throw new AppError(
      "invalid-input",
      words.timeOfInspectionNow(formatMoment(measuredAt, { zone }), formatMoment(now, { zone })) +
        words.setDevicesClock,
      {
        details: { clock: true },
        fields: [{ path: "deviceTime", message: words.mustNotLieMore }],
      },
    );
  return { deviceTime, measuredAt: measuredAt > now ? now : measuredAt };
}

function refusedFor(fields: readonly FieldProblem[], what: string): AppError {
  return new AppError("invalid-input", `${fields[0]?.message ?? words.readingIsWrong}. ${KEPT} ${what}`, { fields });
}

/**
 * Checks one inspection against the plant: known station, plan, gauges and badge, one plausible value a reading, a time that
 * has come. What concerns the frame itself is checked inside the transaction.
 *
 * @throws AppError with the problem of each reading in words
 */
export function checkInspection(input: RecordInspection, reference: ReferenceData, now: Date): CheckedInspection {
  assertDeviceInUse(input.deviceId, reference);
  const station = findStation(input, reference);
  const plan = findPlan(input, reference);
  const fields = shapeProblems(input, plan);
  if (fields.length > 0) throw refusedFor(fields, "Correct it, and send it again.");
  const times = correctedTime(input, reference, now);
  const gauges = findGauges(input, reference, times.measuredAt);
  const impossible = impossibleProblems(input, plan, gauges, reference);
  if (impossible.length > 0)
    throw refusedFor(
      impossible,
      "Correct it; a bore that is really too large or too small for its gauge is sent without a value, as off the scale.",
    );
  const readings = new Written(input.readings);
  const offsetsMs = input.offsetsMs ?? [];
  const states = input.readings.map((value, index) => {
    const state = input.states?.[index];
    if (state !== undefined) return stateCode(state);
    const isNumber = READING_UNIT[plan.names[index]?.kind ?? "bore"] !== null;
    return stateCode(value === null && isNumber ? "cannot" : "measured");
  });
  const use = { ...gauges, offsetsMs, measuredAt: times.measuredAt };
  return {
    input,
    station,
    plan,
    ...findInspectors(input, reference, times.measuredAt),
    ...gauges,
    offsetsMs,
    doubts: gaugeDoubts(plan, use, { readings: input.readings, states, attributes: input.attributes ?? {} }, reference),
    states,
    ...times,
    contentHash: contentHash({ ...input, readings }),
    readings,
    warnings: [
      ...(plan.state === "superseded"
        ? [
            `Plan ${plan.planKey} was revised while this frame was measured: it is recorded under revision ${plan.revision}, by which it was keyed.`,
          ]
        : []),
      ...gauges.gaugeKeys
        .filter((key) => reference.gauges.get(key)?.active === false)
        .map((key) => words.gaugeIsOutOfUse(key)),
    ],
  };
}
