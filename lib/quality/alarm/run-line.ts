import { formBaseline, sizeBaseline, vectorBaseline } from "../../core/control/alarm/alarm-baseline";
import { alarmThresholds, type AlarmThresholds } from "../../core/control/alarm/alarm-thresholds";
import {
  type AlarmScheme,
  type AlarmSignal,
  type AlarmState,
  type FormScheme,
  FRAMES_TO_BE_OVER,
  type SizeScheme,
  startAlarm,
  stepAlarm,
  type VectorScheme,
} from "../../core/control/alarm/stream-alarm";
import { vectorThresholds } from "../../core/control/alarm/vector-thresholds";
import { valueGrid } from "../../core/distributions/rounded-sample";
import { CoreError } from "../../core/errors";
import { DEFAULT_ZERO_LIMIT_UM } from "../../core/metrology/comparator";
import { featureBeside, type FeatureName } from "../../core/metrology/features";
import { RING_UM } from "../../core/metrology/uncertainty-budget";
import { sampleMean, sampleSd } from "../../core/numerics/descriptive-statistics";
import { baselinePlaces } from "../baseline";
import { LEAST_SD, type RegionSide } from "../../core/control/alarm/alarm-region";
import { chartConstants } from "../../core/control/charts/chart-constants";
import type { CharacteristicName } from "../../core/metrology/shell-drawing";
import {
  type AlarmRegion,
  formRegion,
  type Guarded,
  type Ordinary,
  SHIFT_SPREADS,
  sizeRegion,
  spreadRegion,
  vectorRegion,
} from "./alarm-region";
import { ALARM_STREAMS, type AlarmStream } from "./alarm-streams";
import { enterFollowed, type FollowedWear, followWear, withoutWear } from "./follow-wear";
import {
  baselineRefusal,
  type BaselineRefusal,
  changeOfWhole,
  FEWEST_BASELINE_FRAMES,
  LEAST_RESOLUTION,
  outlyingPlaces,
} from "./starting-stretch";

/** Wear that is ordinary where no life of a tool is known, in sd of one frame. A choice, no source. */
export const UNKNOWN_WEAR_SD = 1.5;

/** The frames of one line, drawing and operation in the order of measuring, as columns. */
export type LineColumns = Readonly<{
  frames: number;
  /** One number a frame, taper with its sign; NaN where the frame has none. */
  column: (feature: FeatureName) => readonly number[];
  /** Limits of a stream's characteristic, narrowed by the guard band. */
  guarded: (stream: AlarmStream) => Guarded;
  /** The frame is not shown to conform in the stream's characteristic: it enters no baseline. */
  isFailing: (frame: number, stream: AlarmStream) => boolean;
  /** The frame lies outside the guarded limit of the stream's characteristic: a signal by itself. */
  isOutside: (frame: number, stream: AlarmStream) => boolean;
  /** Diameters that a seat's spread is made of. */
  boreReadings: number;
  /** Frames that the tool in use has cut, this one included, as far as is known; frames of the line where left out. */
  toolAge?: (frame: number) => number;
}>;

export type RunSettings = Readonly<{
  /** Frames of the stream between false alarms. */
  runLength: (stream: AlarmStream) => number;
  /** Frames of the starting stretch. */
  baselineFrames: number;
  /** Chance that the one test of the whole series calls an unchanged stream changed. */
  wholeAlpha: number;
  /** Wear of a bore's tool in sd of one frame where `ordinary` knows none: half of a life's, and how start levels differ. 0 by default. */
  readonly unknownWearSd?: number;
  /** What is known of a stream's ordinary differences; for the rest see regionOf. */
  ordinary?: (stream: AlarmStream) => Partial<Ordinary>;
}>;

/** What the run of one stream says. All places count the frames of the line. */
export type AlarmedStream = Readonly<{
  stream: AlarmStream;
  /** Frames of the starting stretch, of which the baseline is made unless it is refused. */
  baseline: readonly number[];
  /** Where the first frames changed too soon to make a baseline, so that it is made of what followed: the frames before the change. */
  before: readonly number[];
  /** Those of them that lie far from the others. */
  outliers: readonly number[];
  refusal: BaselineRefusal | null;
  /** The gauge does not resolve the variation: only the guarded limit and a changed share of the commonest reading speak. */
  isUnresolved?: boolean;
  region: AlarmRegion | null;
  signals: readonly AlarmSignal[];
  /** After signals: the first of 25 frames at which the sums were quiet. */
  overFrom: readonly number[];
}>;

/** Mean range of two values of a normal distribution, 2 / sqrt(pi). */
const TWO_VALUES = 2 / Math.sqrt(Math.PI);

/** Standard errors of a difference of levels beyond which it is no scatter. */
const BEYOND_ERROR = 2;

type Vector = readonly [number, number];

/** The values of a stream with the frames that have one. */
type Series = Readonly<{ places: readonly number[]; values: readonly number[]; vectors: readonly Vector[] | null }>;

const NO_ORDINARY: Ordinary = { betweenShiftSd: 0, step: 0, wear: 0 };
/** Until twenty shifts tell more, U of the ring / 2 stands for what a zero differs by from shift to shift, mm. A choice, no source. */
export const ZERO_BETWEEN_SHIFTS_MM = RING_UM / 2 / 1000;

/**
 * Runs every stream of a line over its frames: starting baseline, regions, signals.
 *
 * @returns the streams that have any value, in the order of ALARM_STREAMS
 */
export function runLine(line: LineColumns, settings: RunSettings): AlarmedStream[] {
  return ALARM_STREAMS.flatMap((stream) => {
    const series = seriesOf(line, stream);
    return series.places.length === 0 ? [] : [runStream(line, stream, series, settings)];
  });
}

/** Standard deviation of what shifts ordinarily differ by: of a zeroed gauge that of its ring where nothing more is known. */
function ordinaryShifts({ characteristic, statistic }: AlarmStream, { betweenShiftSd }: Partial<Ordinary>): number {
  return betweenShiftSd ?? (characteristic === "bore" && statistic === "mean" ? ZERO_BETWEEN_SHIFTS_MM : 0);
}

export function seriesOf(line: LineColumns, { key }: AlarmStream): Series {
  const first = line.column(key === "offset" ? "offset.12" : key);
  const places: number[] = [];
  for (let frame = 0; frame < line.frames; frame++) if (!Number.isNaN(first[frame] ?? Number.NaN)) places.push(frame);
  const of = (column: readonly number[]) => places.map((frame) => column[frame] ?? 0);
  if (key !== "offset") return { places, values: of(first), vectors: null };
  const three = line.column("offset.3");
  const vectors = places.map((frame): Vector => [first[frame] ?? 0, three[frame] ?? 0]);
  return { places, values: vectors.map(([y, z]) => Math.hypot(y, z)), vectors };
}

function runStream(line: LineColumns, stream: AlarmStream, series: Series, settings: RunSettings): AlarmedStream {
  const { places, values, vectors } = series;
  const failing = places.map((frame) => line.isFailing(frame, stream));
  const ordinary = settings.ordinary?.(stream) ?? {};
  const { stretch, before } = startingStretch(series, failing, settings, ordinaryShifts(stream, ordinary));
  const made = makeBaseline(line, stream, series, stretch, settings);
  const { refusal, region, isUnresolved } = made;
  const outside = places.map(
    (frame, at) => line.isOutside(frame, stream) && !isOfStep(line.guarded(stream), stream, made.step, values[at]),
  );
  const framesOf = (stretchOf: readonly number[]) => stretchOf.map((at) => places[at] ?? 0);
  const known = { stream, baseline: framesOf(stretch), before: framesOf(before), refusal, isUnresolved };
  const framesAlone = outside.flatMap((is, at): AlarmSignal[] =>
    is ? [{ index: places[at] ?? 0, side: null, test: "frame" }] : [],
  );
  const whole = wholeSignals(series, failing, made, stretch, settings);
  const started = startTests(stream, made, settings.runLength(stream));
  if (started === null)
    return { ...known, outliers: [], region, signals: inOrder([...framesAlone, ...whole]), overFrom: [] };
  const end = (stretch.at(-1) ?? -1) + 1;
  const age = ageOf(line, series);
  const run = collect({ outside, end }, vectors ?? values, started, age);
  const early = framesAlone.filter(({ index }) => index < (places[end] ?? Infinity));
  return {
    ...known,
    region,
    outliers: made.outliers,
    signals: inOrder([
      ...early,
      ...whole,
      ...run.signals.map((signal) => ({ ...signal, index: places[signal.index] ?? 0 })),
    ]),
    overFrom: run.overFrom.map((at) => places[at] ?? 0),
  };
}

/** Whether a form is beyond its guarded limit by no more than a step of readings that do not resolve it. */
export function isOfStep({ upper }: Guarded, stream: AlarmStream, step: number, value = 0): boolean {
  const isForm = stream.characteristic === "taper" || stream.characteristic === "ovality";
  return isForm && step > 0 && upper !== null && Math.abs(value) <= upper + step;
}

function inOrder(signals: readonly AlarmSignal[]): AlarmSignal[] {
  return [...signals].sort((a, b) => a.index - b.index);
}

/**
 * Places of the values that make the starting baseline: the first frames that conform. Where they changed among themselves, those
 * before the change, or those from the change on where these are too few. What shifts ordinarily differ by is no change.
 */
function startingStretch(
  { values, vectors }: Series,
  failing: readonly boolean[],
  settings: RunSettings,
  shiftSd: number,
): { stretch: number[]; before: number[] } {
  const size = settings.baselineFrames;
  const first = baselinePlaces(values.length, (at) => failing[at] ?? false, size);
  const series = vectors === null ? [values] : [vectors.map(([y]) => y), vectors.map(([, z]) => z)];
  const sound = baselinePlaces(values.length, (at) => failing[at] ?? false, values.length);
  const alpha = settings.wholeAlpha / (2 * series.length);
  const changes = series.flatMap((each) =>
    [first, sound].flatMap((stretch) => {
      const change = changeOfWhole(
        stretch.map((at) => each[at] ?? 0),
        alpha,
      );
      if (change === null || change.first >= first.length) return [];
      const own = (from: number, to: number) => stretch.slice(from, to).map((at) => each[at] ?? 0);
      const [before, after] = [own(0, change.first), own(change.first, change.first + size)];
      const least = SHIFT_SPREADS * shiftSd + LEAST_SD * Math.min(spreadOf(before), spreadOf(after));
      return Math.abs(sampleMean(after) - sampleMean(before)) > least ? [change.first] : [];
    }),
  );
  if (changes.length === 0) return { stretch: first, before: [] };
  const cut = Math.min(...changes);
  const [before, after] = [first.slice(0, cut), sound.slice(cut, cut + size)];
  if (cut >= FEWEST_BASELINE_FRAMES || after.length <= before.length) return { stretch: before, before: [] };
  return { stretch: after, before };
}

/** Standard deviation from value to value, which a level that changes leaves alone. */
function spreadOf(values: readonly number[]): number {
  const steps = values.slice(1).map((value, at) => Math.abs(value - (values[at] ?? value)));
  return steps.length === 0 ? 0 : sampleMean(steps) / TWO_VALUES;
}

/** Centre of a stream; of a vector both components. */
export type BaselineCentre = readonly number[];

/** What a stretch of frames makes of a stream: its baseline, with the centre and the edges that follow, or why it makes none. */
type StreamBaseline = Readonly<{
  /** Values of the stretch, and their vectors where it is one. */
  values: readonly number[];
  vectors: readonly Vector[] | null;
  refusal: BaselineRefusal | null;
  /** Why not is that the gauge does not resolve the variation: such a stream is tested by ranks. */
  isUnresolved: boolean;
  /** Distance of two values that a gauge can show which does not resolve them; 0 where it does. */
  step: number;
  /** Frames of the line that lie far from the others; they stay. */
  outliers: readonly number[];
  centre: BaselineCentre;
  sd: number;
  region: AlarmRegion | null;
  /** Of a bore whose tool wears: age of the tool at each value, and what shifts differ by. */
  wear: Readonly<{ ages: readonly number[]; shiftSd: number }> | null;
}>;

export type BaselineSettings = Pick<RunSettings, "ordinary" | "unknownWearSd"> &
  Readonly<{
    /** Edges that somebody signed for: they stay, whatever the frames say. */
    region?: AlarmRegion;
  }>;

/**
 * The baseline that a stretch of frames makes: the one function of files, of the run of a line and of approval.
 *
 * @param stretch - places in the series
 */
export function makeBaseline(
  line: LineColumns,
  stream: AlarmStream,
  series: Series,
  stretch: readonly number[],
  settings: BaselineSettings,
): StreamBaseline {
  const { places } = series;
  const values = stretch.map((at) => series.values[at] ?? 0);
  const of = series.vectors;
  const vectors = of === null ? null : stretch.map((at): Vector => of[at] ?? [0, 0]);
  const refusal = baselineRefusal(values);
  const coarse = refusal === null ? coarseStep(line, stream, series, stretch) : 0;
  const isUnresolved = refusal === "all-equal" || refusal === "not-resolved" || coarse > 0;
  const step = coarse > 0 ? coarse : isUnresolved ? (valueGrid(series.values)?.step ?? 0) : 0;
  const centre = vectors === null ? [values] : [vectors.map(([y]) => y), vectors.map(([, z]) => z)];
  const usual = { ...settings.ordinary?.(stream), ...(coarse > 0 ? { unresolved: coarse / 2 } : {}) };
  const computed = () => regionOf(line, stream, series, stretch, { ...settings, ordinary: () => usual });
  const region = refusal === null ? (settings.region ?? computed()) : null;
  const followed = wearOf(stream, settings);
  const age = ageOf(line, series);
  return {
    values,
    vectors,
    refusal,
    isUnresolved,
    step,
    outliers: refusal === null ? outlyingPlaces(values).map((at) => places[stretch[at] ?? 0] ?? 0) : [],
    centre: centre.map((one) => (one.length === 0 ? 0 : sampleMean(one))),
    sd: values.length < 2 ? 0 : Math.sqrt(centre.reduce((sum, one) => sum + sampleSd(one) ** 2 / centre.length, 0)),
    region,
    wear: followed === null ? null : { ages: stretch.map(age), shiftSd: followed.shiftSd },
  };
}

/** Readings whose scatter within a seat is under half a step of the gauge: the step in the stream's unit, else 0. */
function coarseStep(line: LineColumns, stream: AlarmStream, { places }: Series, stretch: readonly number[]): number {
  const { characteristic, unit } = stream;
  const extremes = extremesOf(stream);
  if (extremes === null || !OF_DIAMETERS.has(characteristic)) return 0;
  const [smallest, largest] = [line.column(extremes.smallest), line.column(extremes.largest)];
  const frames = stretch.map((at) => places[at] ?? 0).filter((frame) => Number.isFinite(smallest[frame]));
  if (frames.length < 2 || line.boreReadings < 2) return 0;
  const step =
    valueGrid([...frames.map((frame) => smallest[frame] ?? 0), ...frames.map((frame) => largest[frame] ?? 0)])?.step ??
    0;
  const range = sampleMean(frames.map((frame) => (largest[frame] ?? 0) - (smallest[frame] ?? 0)));
  const within = range / chartConstants(Math.min(100, line.boreReadings)).d2;
  if (!(within < LEAST_RESOLUTION * step)) return 0;
  return unit === "mm" ? step : 1000 * step;
}

/** The smallest and the largest two-point size of what a stream is computed from; null where it is from no sizes. */
export function extremesOf({
  key,
  seat,
  characteristic,
}: AlarmStream): Readonly<Record<"smallest" | "largest", FeatureName>> | null {
  if (key === "offset") return null;
  if (seat !== null && OF_DIAMETERS.has(characteristic))
    return { smallest: `${seat}.bore.smallest`, largest: `${seat}.bore.largest` };
  const [smallest, largest] = [featureBeside(key, "smallest"), featureBeside(key, "largest")];
  return smallest === null || largest === null ? null : { smallest, largest };
}

/** Step of the readings of frames that do not resolve a stream, in its unit; 0 where they do, or nothing can be said yet. */
export function stepOf(line: LineColumns, stream: AlarmStream): number {
  const series = seriesOf(line, stream);
  return coarseStep(
    line,
    stream,
    series,
    series.places.map((_, at) => at),
  );
}

/** Characteristics that are computed from the diameters of a seat. */
const OF_DIAMETERS: ReadonlySet<CharacteristicName> = new Set(["bore", "ovality", "taper"]);

function ageOf(line: LineColumns, { places }: Series): (at: number) => number {
  return (at) => line.toolAge?.(places[at] ?? 0) ?? (places[at] ?? 0) + 1;
}

/** Regions by the drawing, the zero check and ordinary differences: of a zeroed gauge those of its ring where nothing more is known. */
function regionOf(
  line: LineColumns,
  stream: AlarmStream,
  series: Series,
  baseline: readonly number[],
  settings: BaselineSettings,
): AlarmRegion {
  const given = settings.ordinary?.(stream) ?? {};
  const { places, values, vectors } = series;
  const own = baseline.map((at) => values[at] ?? 0);
  const guarded = line.guarded(stream);
  if (vectors !== null)
    return vectorRegion(
      baseline.map((at) => vectors[at] ?? [0, 0]),
      guarded.upper,
      { ...NO_ORDINARY, ...given },
    );
  const ordinary = { ...NO_ORDINARY, step: valueGrid(own)?.step ?? 0, ...given };
  const { key, kind, characteristic, statistic } = stream;
  if (statistic === "range") return spreadRegion(own, line.boreReadings, ordinary);
  if (kind === "form" || key === "offset") return formRegion(own, guarded.upper, ordinary);
  if (characteristic === "taper")
    return sizeRegion(
      own,
      { smallest: own, largest: own },
      { lower: guarded.upper === null ? null : -guarded.upper, upper: guarded.upper },
      ordinary,
      null,
    );
  const extreme = (end: "smallest" | "largest") => {
    const beside = featureBeside(key, end);
    const column = beside === null ? [] : line.column(beside);
    return baseline.map((at) => column[places[at] ?? 0] ?? 0);
  };
  const judged = { smallest: extreme("smallest"), largest: extreme("largest") };
  if (characteristic !== "bore") return sizeRegion(own, judged, guarded, ordinary, null);
  const zeroed = {
    ...ordinary,
    betweenShiftSd: ordinaryShifts(stream, given),
    wear: given.wear ?? (settings.unknownWearSd ?? 0) * sampleSd(own),
  };
  return sizeRegion(own, judged, guarded, zeroed, DEFAULT_ZERO_LIMIT_UM / 1000);
}

function wearOf(stream: AlarmStream, settings: BaselineSettings): { readonly shiftSd: number } | null {
  const given = settings.ordinary?.(stream) ?? {};
  const isFollowed = (settings.unknownWearSd ?? 0) > 0 && given.wear === undefined;
  if (!isFollowed || stream.characteristic !== "bore" || stream.statistic !== "mean") return null;
  return { shiftSd: ordinaryShifts(stream, given) };
}

type RunResult = { readonly signals: AlarmSignal[]; readonly overFrom: number[] };

/** What a stream is held against behind its baseline, and where it stands: plain data, so that it can be stored. */
export type StartedStream = Readonly<{
  region: AlarmRegion;
  scheme: AlarmScheme;
  /** Distance of the two edges of a size, or radius of a vector's region, in sd of the baseline; 0 for a form deviation. */
  gap: number;
  state: AlarmState;
  /** Of a bore whose tool wears as tools ordinarily do: what it has worn is taken off before the value is tested. */
  wear: Readonly<{ followed: FollowedWear; waiting: readonly Worn[] }> | null;
  /** Step of readings that do not resolve it, in the stream's unit; 0 or left out where they do. */
  step?: number;
}>;

type Worn = Readonly<{ age: number; value: number }>;

/**
 * One frame of a started stream of any kind; see stepAlarm.
 *
 * @param age - of the tool, frames; of no matter where no wear is followed
 */
export function stepStarted(
  started: StartedStream,
  value: number | Vector,
  age: number,
  isOutside: boolean,
): { readonly started: StartedStream; readonly signal: AlarmSignal | null } {
  const { scheme, state, wear } = started;
  if (wear === null || typeof value === "object") {
    const { state: next, signal } = stepAny(scheme, state, value, isOutside);
    return { started: { ...started, state: next }, signal };
  }
  const frame = { age, value };
  const { state: next, signal } = stepAny(scheme, state, withoutWear(wear.followed, frame), isOutside);
  const waiting = [...wear.waiting, frame];
  const followed = next.baseline === state.baseline ? wear.followed : enterFollowed(wear.followed, waiting);
  const left = next.waiting.length === 0 ? [] : waiting;
  return { started: { ...started, state: next, wear: { followed, waiting: left } }, signal };
}

function stepAny(
  scheme: AlarmScheme,
  state: AlarmState,
  value: number | Vector,
  isOutside: boolean,
): { readonly state: AlarmState; readonly signal: AlarmSignal | null } {
  if (scheme.kind === "size" && state.kind === "size") return stepAlarm(scheme, state, value as number, isOutside);
  if (scheme.kind === "form" && state.kind === "form") return stepAlarm(scheme, state, value as number, isOutside);
  if (scheme.kind === "vector" && state.kind === "vector") return stepAlarm(scheme, state, value as Vector, isOutside);
  throw new CoreError("invalid-argument", `stepStarted: a ${state.kind} stream must have a scheme of its kind`);
}

/** Thresholds of a stream; see StartedStream for the gap. */
export function streamThresholds(kind: AlarmScheme["kind"], runLength: number, gap: number): AlarmThresholds {
  if (kind === "vector") return vectorThresholds(runLength, gap);
  return kind === "form" ? alarmThresholds(runLength) : alarmThresholds(runLength, gap);
}

/**
 * Starts the run of a stream behind a baseline of all frames of `line` that have a value of it.
 *
 * @returns why they make no baseline, where they do not
 */
export function startStream(
  line: LineColumns,
  stream: AlarmStream,
  runLength: number,
  settings: BaselineSettings,
): StartedStream | BaselineRefusal {
  const series = seriesOf(line, stream);
  const made = makeBaseline(
    line,
    stream,
    series,
    series.places.map((_, at) => at),
    settings,
  );
  const started = startTests(stream, made, runLength);
  return started === null ? (made.refusal ?? "too-few-frames") : { ...started, step: made.step };
}

/** The tests of a stream behind its baseline; null where it has too few frames for any. */
export function startTests(
  { kind }: AlarmStream,
  { values, vectors, refusal, region, isUnresolved, step, wear }: StreamBaseline,
  runLength: number,
): StartedStream | null {
  const bare = { lower: null, upper: null };
  if (refusal === "too-few-frames") return null;
  if (vectors !== null) {
    if (region === null) return null;
    const { scheme, gap } = vectorScheme(vectors, region, runLength);
    return { region, scheme, gap, state: startAlarm(vectorBaseline(vectors)), wear: null };
  }
  if (kind === "form" || isUnresolved) {
    const half = step / 2;
    const edge = (side: RegionSide | null | undefined) => Math.max(half, side?.inControl ?? 0);
    const both = kind === "form" ? {} : { lowerShift: edge(region?.lower) };
    const thresholds = streamThresholds("form", runLength, 0);
    const scheme: FormScheme = { kind: "form", shift: edge(region?.upper), ...both, grows: true, thresholds };
    return { region: region ?? bare, scheme, gap: 0, state: startAlarm(formBaseline(values)), wear: null };
  }
  if (region === null) return null;
  const { scheme, gap } = sizeScheme(values, region, runLength);
  if (wear === null) return { region, scheme, gap, state: startAlarm(sizeBaseline(values)), wear: null };
  const stretch = values.map((value, at) => ({ value, age: wear.ages[at] ?? at + 1 }));
  const followed = followWear(stretch, sampleSd(values), wear.shiftSd);
  const state = startAlarm(sizeBaseline(stretch.map((frame) => withoutWear(followed, frame))));
  return { region, scheme, gap, state, wear: { followed, waiting: [] } };
}

/** Scheme of a size stream: edges are places; where a side has no region it counts from the mean as that grows. */
function sizeScheme(
  own: readonly number[],
  region: AlarmRegion,
  runLength: number,
): { readonly scheme: SizeScheme; readonly gap: number } {
  const centre = sampleMean(own);
  const [below, above] = [region.lower?.inControl ?? 0, region.upper?.inControl ?? 0];
  const gap = (below + above) / sampleSd(own);
  const scheme: SizeScheme = {
    kind: "size",
    sides: region.lower === null ? "upper" : region.upper === null ? "lower" : "both",
    lower: below > 0 ? centre - below : null,
    upper: above > 0 ? centre + above : null,
    grows: true,
    thresholds: streamThresholds("size", runLength, gap),
  };
  return { scheme, gap };
}

function vectorScheme(
  offsets: readonly Vector[],
  region: AlarmRegion,
  runLength: number,
): { readonly scheme: VectorScheme; readonly gap: number } {
  const [twelve, three] = [offsets.map(([y]) => y), offsets.map(([, z]) => z)];
  const sd = Math.sqrt((sampleSd(twelve) ** 2 + sampleSd(three) ** 2) / 2);
  const radius = region.upper?.inControl ?? 0;
  const gap = radius / sd;
  const thresholds = streamThresholds("vector", runLength, gap);
  const scheme: VectorScheme = {
    kind: "vector",
    centre: [sampleMean(twelve), sampleMean(three)],
    radius,
    grows: true,
    thresholds,
  };
  return { scheme, gap };
}

/** Steps a stream from the end of its baseline to its last frame. */
function collect(
  { end, outside }: Readonly<{ end: number; outside: readonly boolean[] }>,
  values: readonly (number | Vector)[],
  from: StartedStream,
  age: (at: number) => number,
): RunResult {
  const signals: AlarmSignal[] = [];
  const overFrom: number[] = [];
  let started = from;
  for (let at = end; at < values.length; at++) {
    const value = values[at];
    if (value === undefined) throw new CoreError("invalid-argument", "runLine: values must have no holes");
    const wasOut = started.state.isOut;
    const next = stepStarted(started, value, age(at), outside[at] ?? false);
    started = next.started;
    if (next.signal !== null) signals.push({ ...next.signal, index: end + next.signal.index });
    else if (wasOut && !started.state.isOut) overFrom.push(at + 1 - FRAMES_TO_BE_OVER);
  }
  return { signals, overFrom };
}

/** A change of the starting stretch, or of a series that is too short for one, found in the whole; said at its last frame. */
function wholeSignals(
  { places, values, vectors }: Series,
  failing: readonly boolean[],
  { region, step }: Pick<StreamBaseline, "region" | "step">,
  stretch: readonly number[],
  { wholeAlpha, baselineFrames }: RunSettings,
): AlarmSignal[] {
  const sound = values.map((_, at) => at).filter((at) => !(failing[at] ?? false));
  const series = vectors === null ? [values] : [vectors.map(([y]) => y), vectors.map(([, z]) => z)];
  const until = (stretch.at(-1) ?? values.length) + 1;
  for (const each of series) {
    const own = sound.map((at) => each[at] ?? 0);
    const change = changeOfWhole(own, wholeAlpha / (2 * series.length));
    if (change === null || (region !== null && (sound[change.first] ?? 0) >= until)) continue;
    const before = sampleMean(own.slice(0, change.first));
    // A later change is none of this one.
    const next = region === null ? own.length : change.first + baselineFrames;
    const after =
      change.kind === "step" || region !== null ? sampleMean(own.slice(change.first, next)) : sampleMean(own.slice(-5));
    const side = after > before ? ("upper" as const) : ("lower" as const);
    const error =
      spreadOf(own) * Math.sqrt(1 / change.first + 1 / Math.max(1, Math.min(next, own.length) - change.first));
    // Where the gauge does not resolve the variation, less than its step is its rounding.
    const usual = Math.max(step, region?.[side]?.inControl ?? region?.upper?.inControl ?? 0);
    if (Math.abs(after - before) <= usual + (region === null ? 0 : BEYOND_ERROR * error)) continue;
    return [{ index: places.at(-1) ?? 0, side: vectors === null ? side : null, test: "whole" }];
  }
  return [];
}
