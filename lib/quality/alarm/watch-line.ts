import type { AlarmTest } from "../../core/control/alarm/stream-alarm";
import { CoreError } from "../../core/errors";
import type { FeatureName } from "../../core/metrology/features";
import type { Guarded, Ordinary } from "./alarm-region";
import { ALARM_STREAMS, type AlarmStream } from "./alarm-streams";
import {
  extremesOf,
  isOfStep,
  type LineColumns,
  startStream,
  type StartedStream,
  stepOf,
  stepStarted,
  streamThresholds,
} from "./run-line";
import { type BaselineRefusal, changeOfWhole, FEWEST_BASELINE_FRAMES } from "./starting-stretch";

/** One frame of a line as its streams see it, in the order of measuring. */
export type WatchedFrame = Readonly<{
  id: string;
  /** Tool that cut it; null where it is not known. */
  tool: string | null;
  /** Taper with its sign; null where the frame has none. */
  value: (feature: FeatureName) => number | null;
  /** It is not shown to conform in the stream's characteristic: it enters no baseline. */
  isFailing: (stream: AlarmStream) => boolean;
  /** It lies outside the guarded limit of the stream's characteristic: a signal by itself. */
  isOutside: (stream: AlarmStream) => boolean;
}>;

export type WatchSettings = Readonly<{
  /** Frames of a stream between false alarms, now. */
  runLength: (stream: AlarmStream) => number;
  /** Frames of the starting stretch. */
  baselineFrames: number;
  /** Chance that a starting stretch of an unchanged stream is taken for one that changed. */
  startAlpha: number;
  guarded: (stream: AlarmStream) => Guarded;
  /** Diameters that a seat's spread is made of. */
  boreReadings: number;
  /** See RunSettings. */
  unknownWearSd?: number;
  ordinary?: (stream: AlarmStream) => Partial<Ordinary>;
}>;

/** A frame of a starting stretch with what its region is computed from. */
type StartingFrame = Readonly<{
  id: string;
  /** Frames that the tool has cut, this one included. */
  age: number;
  value: number;
  /** The second component of a vector. */
  second: number | null;
  smallest: number | null;
  largest: number | null;
}>;

type RunningStream = StartedStream &
  Readonly<{
    runLength: number;
    /** Frames of its starting baseline. */
    baseline: readonly string[];
    /** Version of the baseline that somebody approved; left out where it was made by itself. */
    version?: number;
  }>;

/** Where one stream stands. Plain data: stored, read back and gone on with it gives what one run would, to the bit. */
export type WatchedStream = Readonly<{
  key: AlarmStream["key"];
  starting: readonly StartingFrame[];
  /** Why the last stretch made no baseline; null where none was refused yet, or one was made since. */
  refusal: BaselineRefusal | null;
  running: RunningStream | null;
}>;

/** Where the streams of a line stand, in the order of ALARM_STREAMS; those that never had a value are not in it. */
export type LineWatch = Readonly<{
  streams: readonly WatchedStream[];
  /** The tool in use, as far as frames name it, and the frames that it has cut. */
  tool: Readonly<{ name: string | null; age: number }>;
}>;

export type WatchSignal = Readonly<{
  frame: string;
  key: AlarmStream["key"];
  side: "upper" | "lower" | null;
  test: AlarmTest;
}>;

export const NOTHING_WATCHED: LineWatch = { streams: [], tool: { name: null, age: 0 } };

/** Streams that begin anew with the next frame: what they had as normal counts no more. */
export function restartStreams(watch: LineWatch, keys: readonly AlarmStream["key"][]): LineWatch {
  const streams = watch.streams.map((one) => (keys.includes(one.key) ? { ...UNSTARTED, key: one.key } : one));
  return { ...watch, streams };
}

/** A start that somebody approved. */
export type ApprovedStart = Readonly<{
  key: AlarmStream["key"];
  version: number;
  started: StartedStream;
  runLength: number;
  /** Frames that it is made of. */
  frames: readonly string[];
}>;

/** A stream goes on from an approved start with the next frame: its sums stand at zero, its edges are those that were approved. */
export function startApproved(watch: LineWatch, { key, started, frames, ...of }: ApprovedStart): LineWatch {
  const own: WatchedStream = { key, starting: [], refusal: null, running: { ...started, ...of, baseline: frames } };
  const others = new Map(watch.streams.map((one) => [one.key, one]));
  return { ...watch, streams: ALARM_STREAMS.flatMap((one) => (one.key === key ? own : (others.get(one.key) ?? []))) };
}

const UNSTARTED = { starting: [], refusal: null, running: null } as const;

/**
 * One frame of a line: every stream that has a value of it goes on.
 *
 * @param watch - before the frame; it is not changed
 * @returns where the streams stand after it, and the signals that it raised
 */
export function watchFrame(
  watch: LineWatch,
  frame: WatchedFrame,
  settings: WatchSettings,
): { readonly watch: LineWatch; readonly signals: readonly WatchSignal[] } {
  const signals: WatchSignal[] = [];
  const known = new Map(watch.streams.map((one) => [one.key, one]));
  const isOther = frame.tool !== null && watch.tool.name !== null && frame.tool !== watch.tool.name;
  const tool = { name: frame.tool ?? watch.tool.name, age: isOther ? 1 : watch.tool.age + 1 };
  const streams = ALARM_STREAMS.flatMap((stream) => {
    const before = known.get(stream.key) ?? { ...UNSTARTED, key: stream.key };
    const seen = valuesOf(stream, frame, tool.age, before.running === null);
    if (seen === null) return known.get(stream.key) ?? [];
    return stepStream(stream, before, frame, seen, settings, signals);
  });
  return { watch: { streams, tool }, signals };
}

/** What a stream sees of a frame; what only its region is computed from while it is starting. */
function valuesOf(stream: AlarmStream, frame: WatchedFrame, age: number, isStarting: boolean): StartingFrame | null {
  const { key } = stream;
  const value = frame.value(key === "offset" ? "offset.12" : key);
  if (value === null) return null;
  const extremes = isStarting ? extremesOf(stream) : null;
  const beside = (end: "smallest" | "largest") => (extremes === null ? null : frame.value(extremes[end]));
  const second = key === "offset" ? (frame.value("offset.3") ?? 0) : null;
  return { id: frame.id, age, value, second, smallest: beside("smallest"), largest: beside("largest") };
}

function stepStream(
  stream: AlarmStream,
  before: WatchedStream,
  frame: WatchedFrame,
  seen: StartingFrame,
  settings: WatchSettings,
  signals: WatchSignal[],
): WatchedStream {
  const isRounding = (step: number) => isOfStep(settings.guarded(stream), stream, step, seen.value);
  if (before.running !== null) {
    const isOutside = frame.isOutside(stream) && !isRounding(before.running.step ?? 0);
    return {
      ...before,
      running: stepRunning(stream, withRunLength(before.running, settings, stream), seen, isOutside, signals),
    };
  }
  if (frame.isOutside(stream) && !isRounding(stepSoFar(stream, [...before.starting, seen], settings)))
    signals.push({ frame: frame.id, key: stream.key, side: null, test: "frame" });
  if (frame.isFailing(stream)) return before;
  const starting = [...before.starting, seen];
  if (starting.length < settings.baselineFrames) return { ...before, starting };
  return started(stream, { ...before, starting }, settings, signals);
}

/** A budget that is spread anew changes what the sums are held against, from the next frame on. */
function withRunLength(running: RunningStream, settings: WatchSettings, stream: AlarmStream): RunningStream {
  const runLength = settings.runLength(stream);
  if (runLength === running.runLength) return running;
  const thresholds = streamThresholds(running.scheme.kind, runLength, running.gap);
  return { ...running, runLength, scheme: { ...running.scheme, thresholds } };
}

function stepRunning(
  stream: AlarmStream,
  running: RunningStream,
  { id, value, second, age }: StartingFrame,
  isOutside: boolean,
  signals: WatchSignal[],
): RunningStream {
  const { started, signal } = stepStarted(running, second === null ? value : [value, second], age, isOutside);
  if (signal !== null) signals.push({ frame: id, key: stream.key, side: signal.side, test: signal.test });
  return { ...running, ...started };
}

/**
 * Makes the baseline of a starting stretch. One that changed within itself is cut there: its first part where that is enough, and
 * the frames behind it are tested; else what came before the change is dropped.
 */
function started(
  stream: AlarmStream,
  full: WatchedStream,
  settings: WatchSettings,
  signals: WatchSignal[],
): WatchedStream {
  const { starting } = full;
  const cut = changeWithin(stream, starting, settings.startAlpha);
  if (cut !== null && cut < FEWEST_BASELINE_FRAMES) return { ...full, starting: starting.slice(cut) };
  const baseline = starting.slice(0, cut ?? starting.length);
  const runLength = settings.runLength(stream);
  const made = startOn(stream, baseline, settings, runLength);
  if (typeof made === "string") return { ...full, starting: [], refusal: made };
  let running: RunningStream = { ...made, runLength, baseline: baseline.map(({ id }) => id) };
  for (const seen of starting.slice(baseline.length)) running = stepRunning(stream, running, seen, false, signals);
  return { key: full.key, starting: [], refusal: null, running };
}

function changeWithin({ key }: AlarmStream, starting: readonly StartingFrame[], alpha: number): number | null {
  const series = [starting.map(({ value }) => value)];
  if (key === "offset") series.push(starting.map(({ second }) => second ?? 0));
  const changes = series.flatMap((each) => changeOfWhole(each, alpha / series.length)?.first ?? []);
  return changes.length === 0 ? null : Math.min(...changes);
}

function startOn(
  stream: AlarmStream,
  baseline: readonly StartingFrame[],
  settings: WatchSettings,
  runLength: number,
): StartedStream | BaselineRefusal {
  try {
    return startStream(columnsOf(stream, baseline, settings), stream, runLength, settings);
  } catch (error) {
    // Vectors that lie on a line vary in one direction only.
    if (error instanceof CoreError && error.code === "degenerate") return "all-equal";
    throw error;
  }
}

/** What is kept of a starting stretch, as the columns of a line. */
function columnsOf(stream: AlarmStream, baseline: readonly StartingFrame[], settings: WatchSettings): LineColumns {
  const columns = new Map<FeatureName, readonly number[]>();
  const kept = (feature: FeatureName, of: (frame: StartingFrame) => number | null) => {
    columns.set(
      feature,
      baseline.map((frame) => of(frame) ?? Number.NaN),
    );
  };
  const extremes = extremesOf(stream);
  if (stream.key === "offset") {
    kept("offset.12", ({ value }) => value);
    kept("offset.3", ({ second }) => second);
  } else kept(stream.key, ({ value }) => value);
  if (extremes !== null) {
    kept(extremes.smallest, ({ smallest }) => smallest);
    kept(extremes.largest, ({ largest }) => largest);
  }
  return {
    frames: baseline.length,
    column: (feature) => columns.get(feature) ?? [],
    guarded: settings.guarded,
    isFailing: () => false,
    isOutside: () => false,
    boreReadings: settings.boreReadings,
    toolAge: (place) => baseline[place]?.age ?? place + 1,
  };
}

/** Step of readings that do not resolve a stream, as far as its starting stretch shows it. */
function stepSoFar(stream: AlarmStream, starting: readonly StartingFrame[], settings: WatchSettings): number {
  return stepOf(columnsOf(stream, starting, settings), stream);
}
