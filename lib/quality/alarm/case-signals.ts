import type { AlarmTest } from "../../core/control/alarm/stream-alarm";
import { sampleMean, sampleSd } from "../../core/numerics/descriptive-statistics";
import type { Signal, SignalTest } from "../cases/case";
import type { AlarmedStream, LineColumns } from "./run-line";

const TEST_WORDS: Readonly<Record<AlarmTest, SignalTest>> = {
  frame: "outside",
  limit: "limit",
  fast: "fast sum",
  slow: "slow sum",
  whole: "whole",
};

/** Standard deviations beyond the edge that one mean of a seat may lie by chance. */
const BY_CHANCE = 3;
/** Frames before a signal by which it is told where a vector went. */
const RECENT_FRAMES = 5;

type Signed = Pick<Signal, "feature" | "sign">;

/** Where the offset went: the component that moved most over the last frames, in its own sd. */
function vectorSide({ baseline }: AlarmedStream, line: LineColumns, index: number): Signed {
  const moved = (["offset.12", "offset.3"] as const).map((feature) => {
    const column = line.column(feature);
    const usual = baseline.map((frame) => column[frame] ?? 0);
    const recent = column.slice(Math.max(0, index + 1 - RECENT_FRAMES), index + 1).filter((one) => !Number.isNaN(one));
    if (usual.length < 2 || recent.length === 0) return { feature, by: 0 };
    const sd = sampleSd(usual);
    return { feature, by: sd > 0 ? (sampleMean(recent) - sampleMean(usual)) / sd : 0 };
  });
  const most = moved.reduce((one, other) => (Math.abs(other.by) > Math.abs(one.by) ? other : one));
  return { feature: most.feature, sign: most.by < 0 ? -1 : 1 };
}

function sideOf(one: AlarmedStream, line: LineColumns, index: number, side: "upper" | "lower" | null): Signed {
  const { stream, baseline } = one;
  if (stream.key === "offset") return vectorSide(one, line, index);
  const feature = stream.key;
  if (side !== null) return { feature, sign: side === "upper" ? 1 : -1 };
  if (stream.kind === "form" || baseline.length === 0) return { feature, sign: 1 };
  const column = line.column(feature);
  const centre = sampleMean(baseline.map((frame) => column[frame] ?? 0));
  return { feature, sign: (column[index] ?? centre) < centre ? -1 : 1 };
}

/**
 * Whether a bore lies outside only since its seat is oval there: its mean is where it belongs and the ovality says it.
 */
function isOfOval(one: AlarmedStream, streams: readonly AlarmedStream[], line: LineColumns, index: number): boolean {
  const { stream, baseline, region } = one;
  if (stream.characteristic !== "bore" || baseline.length < 2) return false;
  const ovality = streams.find(
    ({ stream: { characteristic, seat } }) => characteristic === "ovality" && seat === stream.seat,
  );
  if (ovality === undefined || stream.key === "offset" || !line.isOutside(index, ovality.stream)) return false;
  const column = line.column(stream.key);
  const usual = baseline.map((frame) => column[frame] ?? 0);
  const moved = Math.abs((column[index] ?? Infinity) - sampleMean(usual));
  const edge = Math.max(region?.upper?.outOfControl ?? 0, region?.lower?.outOfControl ?? 0);
  return moved < edge + BY_CHANCE * sampleSd(usual);
}

/** The signals of a line as cases are made of them, in the order of the frames. */
export function caseSignals(streams: readonly AlarmedStream[], line: LineColumns): Signal[] {
  return streams
    .flatMap((one) =>
      one.signals
        .filter(({ index, test }) => !(test === "frame" && isOfOval(one, streams, line, index)))
        .map(({ index, side, test }): Signal => ({
          ...sideOf(one, line, index, side),
          place: index,
          test: TEST_WORDS[test],
        })),
    )
    .sort((a, b) => a.place - b.place);
}
