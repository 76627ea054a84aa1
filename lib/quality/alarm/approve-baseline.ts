import { CoreError } from "../../core/errors";
import type { AlarmSignal } from "../../core/control/alarm/stream-alarm";
import type { AlarmRegion } from "./alarm-region";
import type { AlarmStream } from "./alarm-streams";
import {
  type BaselineCentre,
  type BaselineSettings,
  isOfStep,
  type LineColumns,
  makeBaseline,
  type RunSettings,
  seriesOf,
  type StartedStream,
  startTests,
  stepStarted,
} from "./run-line";
import { type BaselineRefusal, FEWEST_BASELINE_FRAMES } from "./starting-stretch";

/** Frames that a preview looks back on. */
export const PREVIEWED_FRAMES = 1000;

/** Which frames of a line are to make a baseline, and what is known of the stream. Places count the frames of the line. */
export type BaselineChoice = Readonly<{
  isChosen: (frame: number) => boolean;
  /** Frames to which a person has assigned a cause: they are left out. */
  hasCause: (frame: number) => boolean;
  /** The stream belongs to a case that is open. */
  hasOpenCase: boolean;
  /** That case is the reason: what it found is the new usual. */
  isReason: boolean;
}>;

/** A baseline as it is approved: its frames, its centre and its edges. */
export type ApprovableBaseline = Readonly<{
  frames: readonly number[];
  /** Frames of the choice that are not in it: they do not conform, or a cause was assigned. */
  failing: readonly number[];
  assigned: readonly number[];
  /** Frames in it that lie far from the others: they leave only by an assigned cause. */
  outliers: readonly number[];
  centre: BaselineCentre;
  sd: number;
  region: AlarmRegion;
  started: StartedStream;
}>;

/** Why a baseline is not approved. */
export type ApprovalRefusal =
  | Readonly<{ code: "open-case" }>
  | Readonly<{ code: "too-few-frames"; frames: number; needed: number }>
  | Readonly<{ code: Exclude<BaselineRefusal, "too-few-frames"> }>;

export type ProposedBaseline =
  Readonly<{ ok: true; baseline: ApprovableBaseline }> | Readonly<{ ok: false; refusal: ApprovalRefusal }>;

export type ProposalSettings = BaselineSettings & Pick<RunSettings, "runLength">;

/**
 * The baseline that a choice of frames makes, by the function that files and automatic limits use.
 *
 * @returns the baseline, or why there is none: a case of the stream is open and is not the reason, or the frames make none
 */
export function proposeBaseline(
  line: LineColumns,
  stream: AlarmStream,
  choice: BaselineChoice,
  settings: ProposalSettings,
): ProposedBaseline {
  if (choice.hasOpenCase && !choice.isReason) return { ok: false, refusal: { code: "open-case" } };
  const series = seriesOf(line, stream);
  const chosen = series.places.filter(choice.isChosen);
  const failing = chosen.filter((frame) => line.isFailing(frame, stream));
  const assigned = chosen.filter((frame) => !line.isFailing(frame, stream) && choice.hasCause(frame));
  const out = new Set([...failing, ...assigned]);
  const frames = chosen.filter((frame) => !out.has(frame));
  const stretch = series.places.flatMap((frame, at) => (choice.isChosen(frame) && !out.has(frame) ? [at] : []));
  const made = madeOf(() => makeBaseline(line, stream, series, stretch, settings));
  if (made === null) return { ok: false, refusal: { code: "all-equal" } };
  const { refusal, outliers, centre, sd, region } = made;
  if (refusal === "all-equal" || refusal === "not-resolved") return { ok: false, refusal: { code: refusal } };
  const started = startTests(stream, made, settings.runLength(stream));
  if (region === null || started === null)
    return {
      ok: false,
      refusal: { code: "too-few-frames", frames: frames.length, needed: FEWEST_BASELINE_FRAMES },
    };
  const stepped = { ...started, step: made.step };
  return { ok: true, baseline: { frames, failing, assigned, outliers, centre, sd, region, started: stepped } };
}

/** Vectors that lie on a line vary in one direction only: null. */
function madeOf<Made>(make: () => Made): Made | null {
  try {
    return make();
  } catch (error) {
    if (error instanceof CoreError && error.code === "degenerate") return null;
    throw error;
  }
}

/** What a baseline would have signalled. */
export type BaselinePreview = Readonly<{
  /** Frames that were looked at. */
  frames: number;
  /** Null where there is no baseline in force. */
  current: readonly AlarmSignal[] | null;
  proposed: readonly AlarmSignal[];
}>;

/** What the baseline in force and a proposed one would each have signalled over the last 1,000 frames of the stream. */
export function previewBaselines(
  line: LineColumns,
  stream: AlarmStream,
  current: Pick<ApprovableBaseline, "started"> | null,
  proposed: Pick<ApprovableBaseline, "started">,
): BaselinePreview {
  const { places, values, vectors } = seriesOf(line, stream);
  const first = Math.max(0, places.length - PREVIEWED_FRAMES);
  const signalsOf = ({ started }: Pick<ApprovableBaseline, "started">): AlarmSignal[] => {
    const signals: AlarmSignal[] = [];
    let now = started;
    for (let at = first; at < places.length; at++) {
      const frame = places[at] ?? 0;
      const value = vectors?.[at] ?? values[at] ?? 0;
      const age = line.toolAge?.(frame) ?? frame + 1;
      const isRounding = isOfStep(line.guarded(stream), stream, started.step ?? 0, values[at]);
      const next = stepStarted(now, value, age, line.isOutside(frame, stream) && !isRounding);
      now = next.started;
      if (next.signal !== null) signals.push({ ...next.signal, index: frame });
    }
    return signals;
  };
  return {
    frames: places.length - first,
    current: current === null ? null : signalsOf(current),
    proposed: signalsOf(proposed),
  };
}

/** How a side's edges differ; null where a version does not watch the side. */
export type EdgeDifference = Readonly<{ from: number | null; to: number | null }>;

/** What is compared of a version; frames are places, or keys. */
export type ComparedBaseline<Frame> = Readonly<{
  frames: readonly Frame[];
  centre: BaselineCentre;
  sd: number;
  region: AlarmRegion;
}>;

/** How one version of a baseline differs from an earlier one. */
export type BaselineDifference<Frame> = Readonly<{
  /** Frames that only the later one has, and that only the earlier one has. */
  entered: readonly Frame[];
  left: readonly Frame[];
  /** How far the centre moved, in the stream's unit; of a vector each component. */
  moved: BaselineCentre;
  /** The later standard deviation over the earlier one. */
  spread: number;
  lower: EdgeDifference;
  upper: EdgeDifference;
}>;

/** Compares two versions of a baseline. Edges are those of the in-control region, as distances from the centre. */
export function compareBaselines<Frame>(
  earlier: ComparedBaseline<Frame>,
  later: ComparedBaseline<Frame>,
): BaselineDifference<Frame> {
  const [before, after] = [new Set(earlier.frames), new Set(later.frames)];
  const edge = (side: "lower" | "upper"): EdgeDifference => ({
    from: earlier.region[side]?.inControl ?? null,
    to: later.region[side]?.inControl ?? null,
  });
  return {
    entered: later.frames.filter((frame) => !before.has(frame)),
    left: earlier.frames.filter((frame) => !after.has(frame)),
    moved: later.centre.map((value, at) => value - (earlier.centre[at] ?? 0)),
    spread: later.sd / earlier.sd,
    lower: edge("lower"),
    upper: edge("upper"),
  };
}
