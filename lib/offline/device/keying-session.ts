import { toSignificant } from "@/lib/core/numerics/decimal-digits";
import {
  type BarPassage,
  formatReadingName,
  type PlugFeel,
  READING_UNIT,
  type ReadingKind,
  type ReadingName,
} from "@/lib/core/metrology/reading-name";
import type { OffScale } from "@/lib/core/metrology/gauge-range";
import {
  implausibleReading,
  type LikelySlip,
  questionReading,
  type RangedGauge,
  type ReadingQuestion,
  sweepKeysOf,
} from "@/lib/core/metrology/reading-plausibility";
import { compileMeasurement, type MeasuringOptions } from "@/lib/core/metrology/measure-frame";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { repeatFaults } from "@/lib/quality/repeat-faults";
import { formatFixed } from "@/lib/format/number-text";
import { parseDecimal } from "@/lib/format/parse-decimal";
import { clippedText, repeatText } from "@/lib/format/judging-words";
import { clippedReason, clippedSweeps, type UsedGauge } from "@/lib/quality/gauge-doubts";
import type { ReadingState, RecordInspection } from "@/lib/schemas/inspection";

/** One reading as it stands on the device. */
export type KeptReading = {
  /** mm or µm as READING_UNIT says; null for a word (plug, bar) and for what could not be taken. */
  readonly value: number | null;
  readonly state: ReadingState;
  /** Milliseconds from the start of the inspection. */
  readonly offsetMs: number;
  readonly gauge: string | null;
  readonly word: PlugFeel | BarPassage | null;
  /** Why it could not be taken. */
  readonly reason: string | null;
  /** Code of who took it. Absent in sessions kept by earlier versions. */
  readonly by?: string | null;
};

export type SupersededReading = NonNullable<RecordInspection["superseded"]>[number];

/**
 * What is asked about a value: it cannot be and nobody can confirm it, it can be and hardly ever is, it was perhaps a size where
 * deviations from the ring are keyed; or about a whole sweep, whose needle stood at its stop.
 */
export type AskedOf = Omit<ReadingQuestion, "slip"> & {
  readonly slip: { readonly kind: LikelySlip["kind"] | typeof A_SIZE; readonly value: number } | null;
  /** Absent in sessions kept by earlier versions: then it cannot be. */
  readonly severity?: "impossible" | "unlikely" | "clipped";
  /** On which side it lies, where a bore may be off the scale. */
  readonly side?: OffScale;
};

/** Enter takes what is offered; where a value may stand, Enter never keeps it. */
export function entersOffer({ slip, severity }: AskedOf): boolean {
  return slip !== null && (slip.kind === A_SIZE || severity !== "unlikely");
}

/** Whether somebody may say that the value is right. */
export const mayStand = ({ severity }: AskedOf): boolean => severity === "unlikely";

/** A value that is asked about once before it counts. */
export type OpenQuestion = {
  readonly index: number;
  readonly value: number;
  readonly offsetMs: number;
  readonly question: AskedOf;
  /** The value stands in the record already: another reading has shown that it does not fit. */
  readonly kept: boolean;
};

/** A new value for a reading that was kept before: it counts as soon as there is a reason. */
export type OpenCorrection = { readonly index: number; readonly reading: KeptReading };

/** A sweep that is not regular, or a diameter that the others reject: asked once, the default is to take it again. */
export type OpenAgain = {
  readonly readings: readonly number[];
  readonly reason: string;
  /** Something is swept again as a whole, or one reading is taken again. */
  readonly of: "sweep" | "reading";
};

/** The measuring of one frame on this device, from the scan to the last reading. Plain data: it is stored as it is. */
export type KeyingSession = {
  /** Key of the inspection, UUID version 7. */
  readonly id: string;
  readonly serial: string;
  readonly batch: string;
  readonly stationId: string;
  readonly planRevisionId: string;
  /** The device's clock at the scan, milliseconds since 1970. */
  readonly startedAt: number;
  readonly readings: readonly (KeptReading | null)[];
  readonly superseded: readonly SupersededReading[];
  /** Place of the reading that is asked for; null when every reading has been dealt with. */
  readonly asked: number | null;
  readonly question: OpenQuestion | null;
  readonly correction: OpenCorrection | null;
  /** Readings to take again while the shell is on the stand; absent in sessions kept by earlier versions. */
  readonly again?: OpenAgain | null;
  /** Temperature of the shell, °C. */
  readonly temperatureC?: number;
  /** Why the last entry was not taken. */
  readonly refusal: string | null;
  /** Place of the reading kept last. */
  readonly last: number | null;
  readonly remark: string;
  /** Why the frame is measured again; null for the first time. */
  readonly reason: string | null;
  /** The plan does not ask for this frame. */
  readonly outsidePlan?: true;
  /** It stands for the line at the start of a shift or after an event. */
  readonly firstOff?: true;
  /** Key of the line that it belongs to, where somebody said that it is measured here all the same. */
  readonly otherLine?: string;
  /** Sweeps that stay as they are although their needle stood at its stop, by the places of their readings. */
  readonly clippedLeft?: readonly string[];
  /** Why it is measured although the line waits for the release of its first-off. */
  readonly beforeRelease?: string;
};

/** What stays the same from one reading to the next, until a gauge or the inspector is changed. */
export type KeyingPlan = {
  readonly drawing: ShellDrawing;
  readonly names: readonly ReadingName[];
  /** Size of the setting ring from which a bore gauge shows deviations in µm; null where sizes are keyed. */
  readonly ringMm: number | null;
  /** Unit in which indicators, and bore gauges that show deviations, are read. */
  readonly smallUnit: "µm" | "mm";
  readonly gauges: Readonly<Partial<Record<ReadingKind, string>>>;
  /** What is known of those gauges; absent where nothing is. */
  readonly known?: Readonly<Partial<Record<ReadingKind, UsedGauge>>>;
  /** Code of who measures. */
  readonly inspector: string | null;
  /** What the plan says of its measuring; the usual where it is left out. */
  readonly measuring?: MeasuringOptions;
};

export type KeyingEvent =
  | { readonly type: "enter"; readonly text: string; readonly offsetMs: number }
  /** Enter: the question's offer where it is one to be taken; else the value is keyed anew, or the sweep taken again. */
  | { readonly type: "yes"; readonly offsetMs: number }
  | { readonly type: "take offer"; readonly offsetMs: number }
  /** The value stands, where it may. */
  | { readonly type: "as keyed"; readonly offsetMs: number }
  /** The bore is too large or too small for its gauge: it has no value. */
  | { readonly type: "off scale"; readonly side: OffScale; readonly offsetMs: number }
  | { readonly type: "no" }
  | { readonly type: "reason"; readonly reason: string }
  /** A word for the reading at this place: it answers that one only. */
  | {
      readonly type: "word";
      readonly word: PlugFeel | BarPassage;
      readonly index: number;
      readonly offsetMs: number;
    }
  | { readonly type: "cannot"; readonly reason: string; readonly offsetMs: number }
  | { readonly type: "jump"; readonly index: number }
  | { readonly type: "back" }
  | { readonly type: "go on" }
  | { readonly type: "remark"; readonly text: string };

/** How a size keyed among deviations is called. */
export const A_SIZE = "a size, where deviations from the ring are keyed";
const NO_SIGN = "keyed without its decimal sign, asked and corrected";
const OTHER_SLIP = "keyed with a slip, asked and corrected";
const RE_ENTERED = "asked about and re-entered";
const OFF_SCALE = "beyond what the gauge can show: the bore is off its scale";
const SWEPT_AGAIN = "the needle stood at the end of its travel: swept again";
const SWEEP_FIRST = "was not taken: say first whether the sweep is taken again.";
const TAKEN_AGAIN = { sweep: "not regular, swept again", reading: "rejected by the others, measured again" } as const;

type Start = Pick<
  KeyingSession,
  | "id"
  | "serial"
  | "batch"
  | "stationId"
  | "planRevisionId"
  | "startedAt"
  | "reason"
  | "outsidePlan"
  | "firstOff"
  | "otherLine"
  | "beforeRelease"
>;

/** A frame that was just scanned, its first reading asked for. */
export function startKeying(start: Start, plan: Pick<KeyingPlan, "names">): KeyingSession {
  return {
    ...start,
    readings: plan.names.map(() => null),
    superseded: [],
    asked: plan.names.length === 0 ? null : 0,
    question: null,
    correction: null,
    refusal: null,
    last: null,
    remark: "",
  };
}

/** Values in the plan's order, as the core takes them. */
export function keyedValues(session: KeyingSession): (number | null)[] {
  return session.readings.map((reading) => reading?.value ?? null);
}

/** Whether the reading is a deviation, with a sign: of an indicator, or of a bore gauge from its setting ring. */
export function isDeviation(plan: Pick<KeyingPlan, "ringMm">, name: ReadingName): boolean {
  return name.kind === "bore" ? plan.ringMm !== null : READING_UNIT[name.kind] === "µm";
}

/** Unit in which the asked reading is keyed; null where it is a word. */
export function keyedUnit(plan: KeyingPlan, name: ReadingName): "mm" | "µm" | null {
  return isDeviation(plan, name) ? plan.smallUnit : READING_UNIT[name.kind];
}

/** The gauge of a kind of reading with its range, null where nobody knows it. */
function rangedGauge(plan: KeyingPlan, kind: ReadingKind): RangedGauge | null {
  return plan.known?.[kind] ?? null;
}

function askedAbout(plan: KeyingPlan, name: ReadingName, value: number, sweep: readonly number[]): AskedOf | null {
  return questionReading(plan.drawing, name, value, { sweep, gauge: rangedGauge(plan, name.kind) });
}

/** Digits that take off the rounding of a sum or a product: 40.975 - 0.007 is 40.968 and not 40.967999999999996. */
const KEYED_DIGITS = 12;

/** Value of a keyed number in the reading's own unit: a deviation from the setting ring becomes a size. */
export function keyedValue(plan: KeyingPlan, name: ReadingName, keyed: number): number {
  if (!isDeviation(plan, name)) return keyed;
  const um = plan.smallUnit === "mm" ? toSignificant(keyed * 1000, KEYED_DIGITS) : keyed;
  if (name.kind !== "bore" || plan.ringMm === null) return um;
  return toSignificant(plan.ringMm + um / 1000, KEYED_DIGITS);
}

/** Deviations are read to a tenth of a µm at best: more decimals of them are those of a size in mm. */
const SIZE_DECIMALS = 2;

/** A size keyed where the gauge is set to show deviations: 40.98 must not pass for 40.98 µm above the ring. */
function sizeForDeviation(
  plan: KeyingPlan,
  name: ReadingName,
  { value: keyed, decimals }: { readonly value: number; readonly decimals: number },
): AskedOf | null {
  if (name.kind !== "bore" || plan.ringMm === null || decimals < SIZE_DECIMALS) return null;
  if (implausibleReading(plan.drawing, name, keyed) !== null) return null;
  const value = keyedValue(plan, name, keyed);
  const severity = askedAbout(plan, name, value, [])?.severity === "impossible" ? "impossible" : "unlikely";
  const text = `${keyed} is ${value} mm as a deviation from the ring; ${A_SIZE}? ${keyed} mm would fit`;
  return { expected: plan.ringMm, reach: 0, unit: "mm", slip: { kind: A_SIZE, value: keyed }, text, severity };
}

/** Readings of the same sweep or face as `index`, with `value` in that place. */
export function sweepWith(
  names: readonly ReadingName[],
  readings: readonly (KeptReading | null)[],
  index: number,
  value: number,
): number[] {
  const own = names[index];
  if (own === undefined || (own.kind !== "sweep" && own.kind !== "face")) return [];
  return names.flatMap((name, place) => {
    const same =
      name.kind === own.kind &&
      name.seat === own.seat &&
      (name.kind !== "sweep" || own.kind !== "sweep" || name.depthMm === own.depthMm);
    if (!same) return [];
    const found = place === index ? value : (readings[place]?.value ?? null);
    return found === null ? [] : [found];
  });
}

function nextOpen(readings: readonly (KeptReading | null)[], after: number): number | null {
  const later = readings.findIndex((reading, place) => place > after && reading === null);
  const any = later >= 0 ? later : readings.findIndex((reading) => reading === null);
  return any < 0 ? null : any;
}

function kept(plan: KeyingPlan, index: number, change: Partial<KeptReading> & { offsetMs: number }): KeptReading {
  const kind = plan.names[index]?.kind;
  const gauge = kind === undefined ? null : (plan.gauges[kind] ?? null);
  return { value: null, state: "measured", gauge, word: null, reason: null, by: plan.inspector, ...change };
}

/** Places of the readings of one sweep or face, in the plan's order. */
function sweepPlaces({ names }: KeyingPlan, index: number): number[] {
  const keys = sweepKeysOf(names);
  const own = keys[index] ?? null;
  return own === null ? [] : keys.flatMap((key, at) => (key === own ? [at] : []));
}

/** A sweep that is all there and whose needle stood at its stop: asked about while the shell is on the indicator. */
function clippedQuestion(plan: KeyingPlan, session: KeyingSession): OpenQuestion | null {
  const isThere = (index: number): boolean => sweepPlaces(plan, index).every((at) => session.readings[at] !== null);
  const values = keyedValues(session).map((value, index) => (value !== null && isThere(index) ? value : null));
  const gauges = plan.names.map(({ kind }) => plan.known?.[kind] ?? null);
  for (const clipped of clippedSweeps(plan.names, values, gauges)) {
    const [index] = sweepPlaces(plan, clipped.places[0] ?? -1);
    if (index === undefined || session.clippedLeft?.includes(String(index)) === true) continue;
    const asked = { expected: 0, reach: 0, unit: "µm", slip: null, text: clippedText(clippedReason(clipped)) } as const;
    const offsetMs = session.readings[index]?.offsetMs ?? 0;
    return { index, value: clipped.atUm, offsetMs, question: { ...asked, severity: "clipped" }, kept: true };
  }
  return null;
}

/** A question about readings that are kept already, once all of them are there: the first of a sweep may be the odd one. */
function lateQuestion(plan: KeyingPlan, session: KeyingSession): OpenQuestion | null {
  if (session.asked !== null) return clippedQuestion(plan, session);
  for (const [index, name] of plan.names.entries()) {
    const { value = null, state, offsetMs = 0 } = session.readings[index] ?? {};
    if (value === null) continue;
    const question = askedAbout(plan, name, value, sweepWith(plan.names, session.readings, index, value));
    if (question === null || (state === "confirmed" && mayStand(question))) continue;
    return { index, value, offsetMs, question, kept: true };
  }
  return clippedQuestion(plan, session);
}

/** Places of the readings that are tested together with one: its sweep, or the diameters of its seat. */
function testedWith({ names }: KeyingPlan, index: number): number[] {
  const own = names[index];
  if (own === undefined || (own.kind !== "sweep" && own.kind !== "bore")) return [];
  return names.flatMap((name, place) => {
    const isSame = name.kind === own.kind && name.seat === own.seat;
    return isSame && (name.kind === "bore" || own.kind === "bore" || name.depthMm === own.depthMm) ? [place] : [];
  });
}

/**
 * What to take again now that a sweep or a seat is complete: the same test by which the frame is judged, while the shell is still
 * on the stand.
 */
function againAsked(plan: KeyingPlan, { readings }: KeyingSession, index: number): OpenAgain | null {
  const tested = testedWith(plan, index);
  if (tested.length === 0 || tested.some((place) => (readings[place] ?? null) === null)) return null;
  const compiled = compileMeasurement(plan.names, plan.drawing, plan.measuring);
  const values = readings.map((reading) => reading?.value ?? null);
  // A reading that cannot be right is asked about by itself.
  const isOdd = (at: number): boolean => {
    const name = plan.names[at];
    const value = values[at] ?? null;
    if (name === undefined || value === null) return false;
    return askedAbout(plan, name, value, sweepWith(plan.names, readings, at, value)) !== null;
  };
  if (tested.some(isOdd)) return null;
  const fault = repeatFaults({ compiled, readings: values }).find((one) =>
    one.readings.every((at) => tested.includes(at)),
  );
  if (fault === undefined || fault.readings.every((at) => readings[at]?.state === "confirmed")) return null;
  return {
    readings: fault.readings,
    reason: repeatText(fault.reason),
    of: fault.readings.length > 1 ? "sweep" : "reading",
  };
}

/** The readings in question are taken again: what stood stays in the record. */
function takeAgain(session: KeyingSession, offsetMs: number): KeyingSession {
  const { again = null } = session;
  if (again === null) return session;
  const noted = again.readings.reduce((now, index) => {
    const before = session.readings[index] ?? null;
    return stands(before) ? supersede(now, index, before, { reason: TAKEN_AGAIN[again.of], offsetMs }) : now;
  }, session);
  const readings = session.readings.map((one, at) => (again.readings.includes(at) ? null : one));
  return { ...noted, readings, again: null, question: null, refusal: null, asked: Math.min(...again.readings) };
}

/** They stay as they are, confirmed: the verdict says what is not proven by them. */
function keepAsTaken(session: KeyingSession): KeyingSession {
  const { again = null } = session;
  if (again === null) return session;
  const readings = session.readings.map((one, at) =>
    one !== null && one.state === "measured" && again.readings.includes(at)
      ? { ...one, state: "confirmed" as const }
      : one,
  );
  return { ...session, readings, again: null, refusal: null };
}

/** What is due before the frame is finished beside its readings. */
export function temperatureDue(session: KeyingSession, { measuring }: Pick<KeyingPlan, "measuring">): boolean {
  return measuring?.temperature?.asked === true && session.temperatureC === undefined;
}

const AGAIN_FIRST = "was not taken: answer first. Enter takes it again.";
const COLDEST_C = -20;
const WARMEST_C = 60;

function enterTemperature(session: KeyingSession, text: string): KeyingSession {
  const parsed = parseDecimal(text, "°C");
  if (!parsed.ok) return { ...session, refusal: parsed.message };
  if (parsed.value < COLDEST_C || parsed.value > WARMEST_C)
    return {
      ...session,
      refusal: `A shell’s temperature lies between ${formatFixed(COLDEST_C, 0)} and ${WARMEST_C} °C: key it again.`,
    };
  return { ...session, temperatureC: parsed.value, refusal: null };
}

function place(plan: KeyingPlan, session: KeyingSession, index: number, reading: KeptReading): KeyingSession {
  const readings = session.readings.map((one, at) => (at === index ? reading : one));
  const next: KeyingSession = {
    ...session,
    readings,
    asked: nextOpen(readings, index),
    question: null,
    correction: null,
    refusal: null,
    last: index,
  };
  const question = lateQuestion(plan, next);
  const isNew = session.readings[index]?.value !== reading.value;
  return { ...next, question, again: question === null && isNew ? againAsked(plan, next, index) : null };
}

/** A reading says something that a new one replaces: a value, a word, or that it cannot be taken. */
function stands(reading: KeptReading | null): reading is KeptReading {
  return reading !== null && (reading.value !== null || reading.word !== null || reading.state !== "measured");
}

/** Keeps a reading; one that replaces what stood there waits for its reason. */
function keep(plan: KeyingPlan, session: KeyingSession, index: number, reading: KeptReading): KeyingSession {
  const before = session.readings[index] ?? null;
  if (!stands(before)) return place(plan, session, index, reading);
  const isSame = before.value === reading.value && JSON.stringify(before.word) === JSON.stringify(reading.word);
  if (isSame && before.state === reading.state) return place(plan, session, index, { ...before, state: reading.state });
  return { ...session, question: null, refusal: null, correction: { index, reading } };
}

type Replaced = { readonly value: number | null; readonly word?: KeptReading["word"]; readonly by?: string | null };

/** Notes what stood for a reading, with why it counts no more; who keyed it is left out where nobody is known. */
function supersede(
  session: KeyingSession,
  index: number,
  { value, word = null, by = null }: Replaced,
  why: { readonly reason: string; readonly offsetMs: number },
): KeyingSession {
  const noted = {
    index,
    value,
    ...(word === null ? {} : { word }),
    ...why,
    ...(by === null ? {} : { by }),
  };
  return { ...session, superseded: [...session.superseded, noted] };
}

function enter(plan: KeyingPlan, session: KeyingSession, text: string, offsetMs: number): KeyingSession {
  const index = session.asked;
  const name = index === null ? undefined : plan.names[index];
  if (index === null || name === undefined) return session;
  const unit = keyedUnit(plan, name);
  if (unit === null)
    return { ...session, refusal: `“${text.trim()}” is no answer to this reading: choose one of its words.` };
  const parsed = parseDecimal(text, unit);
  if (!parsed.ok) return { ...session, refusal: parsed.message };
  const value = keyedValue(plan, name, parsed.value);
  const sweep = sweepWith(plan.names, session.readings, index, value);
  const question = sizeForDeviation(plan, name, parsed) ?? askedAbout(plan, name, value, sweep);
  if (question !== null)
    return { ...session, refusal: null, question: { index, value, offsetMs, question, kept: false } };
  return keep(plan, session, index, kept(plan, index, { value, offsetMs }));
}

function slipReason(question: AskedOf): string {
  return question.slip?.kind === "missing decimal sign" ? NO_SIGN : OTHER_SLIP;
}

const WORD_TWICE = "The reading before this one had its word already: nothing was taken for this one.";

/** A word counts for the reading that was on the screen; struck twice, the second is not taken for the next one. */
function answerInWords(
  plan: KeyingPlan,
  session: KeyingSession,
  { word, index, offsetMs }: Extract<KeyingEvent, { type: "word" }>,
): KeyingSession {
  if (session.asked === null) return session;
  if (session.asked !== index) return { ...session, refusal: WORD_TWICE };
  return keep(plan, session, index, kept(plan, index, { word, offsetMs }));
}

/** The person says that an unlikely value is right, or that a sweep stays as it is: then it proves nothing. */
function confirm(plan: KeyingPlan, session: KeyingSession, offsetMs: number): KeyingSession {
  const open = session.question;
  if (open === null) return session;
  const { index, value, question } = open;
  if (question.severity === "clipped") {
    const left = { ...session, question: null, clippedLeft: [...(session.clippedLeft ?? []), String(index)] };
    return { ...left, question: lateQuestion(plan, left) };
  }
  if (!mayStand(question)) return session;
  const reading = kept(plan, index, { value, state: "confirmed", offsetMs });
  return open.kept ? place(plan, session, index, reading) : keep(plan, session, index, reading);
}

/** Enter: never keeps a value that was asked about. */
function answer(plan: KeyingPlan, session: KeyingSession, offsetMs: number): KeyingSession {
  const open = session.question;
  if (open === null) return session;
  return entersOffer(open.question) ? takeOffer(plan, session, offsetMs) : giveUp(plan, session);
}

/** The person meant what the question offers. Both values stay in the record. */
function takeOffer(plan: KeyingPlan, session: KeyingSession, offsetMs: number): KeyingSession {
  const open = session.question;
  if (open === null || open.question.slip === null) return session;
  const { index, value, question } = open;
  const { slip } = question;
  if (slip === null) return session;
  const keyed = { value, by: plan.inspector };
  const noted = supersede(session, index, keyed, { reason: slipReason(question), offsetMs: open.offsetMs });
  const reading = kept(plan, index, { value: slip.value, offsetMs });
  return open.kept ? place(plan, noted, index, reading) : keep(plan, noted, index, reading);
}

/** A sweep is taken again from its first reading; what was read stays in the record. */
function sweepAgain(plan: KeyingPlan, session: KeyingSession, index: number): KeyingSession {
  const places = sweepPlaces(plan, index);
  const noted = places.reduce((one, at) => {
    const before = one.readings[at] ?? null;
    if (before === null) return one;
    return supersede(one, at, before, { reason: SWEPT_AGAIN, offsetMs: before.offsetMs });
  }, session);
  const readings = session.readings.map((one, at) => (places.includes(at) ? null : one));
  return { ...noted, readings, question: null, refusal: null, asked: places[0] ?? session.asked };
}

/** The questioned value is given up for a new one; it stays in the record. */
function giveUp(plan: KeyingPlan, session: KeyingSession): KeyingSession {
  const open = session.question;
  if (open === null) return session;
  if (open.question.severity === "clipped") return sweepAgain(plan, session, open.index);
  const by = open.kept ? (session.readings[open.index]?.by ?? null) : plan.inspector;
  const keyed = { value: open.value, by };
  const noted = supersede(session, open.index, keyed, { reason: RE_ENTERED, offsetMs: open.offsetMs });
  const readings = open.kept ? session.readings.map((one, at) => (at === open.index ? null : one)) : session.readings;
  return { ...noted, readings, question: null, refusal: null, asked: open.index };
}

function correct(plan: KeyingPlan, session: KeyingSession, reason: string): KeyingSession {
  const { correction } = session;
  const why = reason.trim();
  if (correction === null || why === "") return session;
  const { index, reading } = correction;
  const before = session.readings[index] ?? null;
  if (!stands(before)) return place(plan, session, index, reading);
  // What was said of a reading that could not be taken stays, too.
  const said = before.reason === null ? why : `${why} (could not be taken: ${before.reason})`;
  const noted = supersede(session, index, before, { reason: said.slice(0, 500), offsetMs: before.offsetMs });
  return place(plan, noted, index, reading);
}

/** Leaves an open question without an answer: what was keyed stays in the record, what was kept already stands. */
function leaveQuestion(plan: KeyingPlan, session: KeyingSession): KeyingSession {
  return session.question?.kept === false ? giveUp(plan, session) : { ...session, question: null };
}

function jump(plan: KeyingPlan, session: KeyingSession, index: number): KeyingSession {
  if (index < 0 || index >= session.readings.length) return session;
  return { ...leaveQuestion(plan, session), asked: index, correction: null, refusal: null };
}

function back(plan: KeyingPlan, session: KeyingSession): KeyingSession {
  const from = session.asked ?? session.readings.length;
  for (let place = from - 1; place >= 0; place -= 1)
    if (session.readings[place] !== null) return jump(plan, session, place);
  return session;
}

function goOn(plan: KeyingPlan, session: KeyingSession): KeyingSession {
  const left = leaveQuestion(plan, session);
  const next = { ...left, asked: nextOpen(left.readings, -1), correction: null, refusal: null };
  return { ...next, question: lateQuestion(plan, next) };
}

/** Marks the reading that is on the screen as one that cannot be taken. */
function cannot(plan: KeyingPlan, session: KeyingSession, said: string, offsetMs: number): KeyingSession {
  const index = session.question?.index ?? session.asked;
  const reason = said.trim().slice(0, 500);
  if (index === null || reason === "") return session;
  const left = leaveQuestion(plan, session);
  const before = left.readings[index] ?? null;
  const noted = stands(before) ? supersede(left, index, before, { reason, offsetMs: before.offsetMs }) : left;
  return place(plan, noted, index, kept(plan, index, { state: "cannot", reason, offsetMs }));
}

/** The bore is too large or too small for its gauge: it does not conform, without a value. */
function offTheScale(plan: KeyingPlan, session: KeyingSession, side: OffScale, offsetMs: number): KeyingSession {
  const index = session.question?.index ?? session.asked;
  if (index === null || plan.names[index]?.kind !== "bore") return session;
  const open = session.question?.kept === false ? session.question : null;
  const keyed = open === null ? null : { value: open.value, by: plan.inspector };
  const asked = keyed === null ? session : supersede(session, index, keyed, { reason: OFF_SCALE, offsetMs });
  const before = asked.readings[index] ?? null;
  const why = { reason: OFF_SCALE, offsetMs: before?.offsetMs ?? offsetMs };
  const noted = stands(before) ? supersede(asked, index, before, why) : asked;
  const state = side === "large" ? ("off-scale-large" as const) : ("off-scale-small" as const);
  return place(plan, noted, index, kept(plan, index, { state, offsetMs }));
}

/** A number that is keyed while something is asked is the answer "no, this one"; a sweep is asked about as a whole. */
function enterAnew(plan: KeyingPlan, session: KeyingSession, text: string, offsetMs: number): KeyingSession {
  if (session.question?.question.severity === "clipped")
    return { ...session, refusal: `“${text.trim()}” ${SWEEP_FIRST}` };
  return enter(plan, session.question === null ? session : giveUp(plan, session), text, offsetMs);
}

/** Reducer of keying: one event, one new session; nothing is ever lost from the record of what was keyed. */
export function stepKeying(plan: KeyingPlan, session: KeyingSession, event: KeyingEvent): KeyingSession {
  switch (event.type) {
    case "enter":
      if ((session.again ?? null) !== null) return { ...session, refusal: `${event.text.trim()} ${AGAIN_FIRST}` };
      if (session.asked === null && session.question === null && temperatureDue(session, plan))
        return enterTemperature(session, event.text);
      return enterAnew(plan, session, event.text, event.offsetMs);
    case "yes":
      if ((session.again ?? null) !== null) return takeAgain(session, event.offsetMs);
      return answer(plan, session, event.offsetMs);
    case "take offer":
      return takeOffer(plan, session, event.offsetMs);
    case "as keyed":
      if ((session.again ?? null) !== null) return keepAsTaken(session);
      return confirm(plan, session, event.offsetMs);
    case "off scale":
      return offTheScale(plan, session, event.side, event.offsetMs);
    case "no":
      return session.correction === null ? giveUp(plan, session) : { ...session, correction: null };
    case "reason":
      return correct(plan, session, event.reason);
    case "word":
      return answerInWords(plan, session, event);
    case "cannot":
      return cannot(plan, session, event.reason, event.offsetMs);
    case "jump":
      return jump(plan, session, event.index);
    case "back":
      return back(plan, session);
    case "go on":
      return goOn(plan, session);
    case "remark":
      return { ...session, remark: event.text.slice(0, 2000) };
  }
}

/** Nothing is asked for any more: the inspection can be finished. */
export function isComplete(session: KeyingSession, plan: Pick<KeyingPlan, "measuring"> = {}): boolean {
  const { asked, question, correction, again = null } = session;
  return asked === null && question === null && correction === null && again === null && !temperatureDue(session, plan);
}

/** Who finishes, when, by which clock. */
export type Finish = {
  readonly finishedAt: number;
  readonly clockSkewMs: number | null;
  readonly deviceId: string;
  readonly inspectorCode: string | null;
};

function words(session: KeyingSession, names: readonly ReadingName[]): NonNullable<RecordInspection["attributes"]> {
  const plugs: Record<string, PlugFeel> = {};
  const bars: Record<string, BarPassage> = {};
  const cannotReasons: Record<string, string> = {};
  names.forEach((name, index) => {
    const reading = session.readings[index];
    if (!reading) return;
    const label = formatReadingName(name);
    if (reading.reason !== null) cannotReasons[label] = reading.reason;
    if (typeof reading.word === "string") plugs[label] = reading.word;
    else if (reading.word !== null) bars[label] = reading.word;
  });
  return {
    ...(Object.keys(plugs).length > 0 ? { plugs } : {}),
    ...(Object.keys(bars).length > 0 ? { bars } : {}),
    ...(Object.keys(cannotReasons).length > 0 ? { cannotReasons } : {}),
    ...(session.outsidePlan === true ? { outsidePlan: true as const } : {}),
    ...(session.firstOff === true ? { firstOff: true as const } : {}),
    ...(session.otherLine === undefined ? {} : { otherLine: session.otherLine }),
    ...(session.beforeRelease === undefined ? {} : { beforeRelease: session.beforeRelease }),
    ...(session.temperatureC === undefined ? {} : { temperatureC: session.temperatureC }),
    ...(session.remark.trim() === "" ? {} : { remark: session.remark.trim() }),
  };
}

type Segment = { readonly from: number; readonly code: string };

/** Who took which readings, each from that place on; null where one person took them all, or nobody is known. */
function inspectorsOf(session: KeyingSession, finishedBy: string | null): readonly Segment[] | null {
  const codes = session.readings.map((reading) => reading?.by ?? finishedBy);
  const known = codes.every((code) => code !== null) ? codes : [];
  const segments = known.flatMap((code, from) => (code === known[from - 1] ? [] : [{ from, code }]));
  return segments.length > 1 ? segments : null;
}

/** The finished inspection as it is sent. */
export function toInspection(session: KeyingSession, plan: KeyingPlan, finish: Finish): RecordInspection {
  const gauges = session.readings.map((reading) => reading?.gauge ?? null);
  const inspectors = inspectorsOf(session, finish.inspectorCode);
  const attributes = { ...words(session, plan.names), ...(inspectors === null ? {} : { inspectors: [...inspectors] }) };
  const own = (entry: SupersededReading) => inspectors === null && entry.by === finish.inspectorCode;
  const superseded = session.superseded.map((entry) => {
    const { by: _by, ...rest } = entry;
    return own(entry) ? rest : entry;
  });
  return {
    id: session.id,
    serial: session.serial,
    batch: session.batch,
    stationId: session.stationId,
    planRevisionId: session.planRevisionId,
    readings: keyedValues(session),
    states: session.readings.map((reading) => reading?.state ?? "cannot"),
    offsetsMs: session.readings.map((reading) => Math.max(0, Math.round(reading?.offsetMs ?? 0))),
    ...(gauges.some((gauge) => gauge !== null) ? { gauges } : {}),
    ...(superseded.length === 0 ? {} : { superseded }),
    ...(Object.keys(attributes).length === 0 ? {} : { attributes }),
    deviceTime: new Date(finish.finishedAt).toISOString(),
    ...(finish.clockSkewMs === null ? {} : { clockSkewMs: Math.round(finish.clockSkewMs) }),
    ...(session.reason === null ? {} : { reason: session.reason }),
    deviceId: finish.deviceId,
    ...(finish.inspectorCode === null ? {} : { inspectorCode: finish.inspectorCode }),
  };
}
