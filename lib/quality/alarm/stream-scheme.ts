import { sampleMean } from "../../core/numerics/descriptive-statistics";
import type { WatchedStream } from "./watch-line";

/**
 * How a stream is tested: the edges of its region in control, as places in its unit. Of a size null where its sums count from the mean;
 * a form deviation has an upper one alone; of the offset the radius about its centre.
 */
export type StreamScheme =
  | Readonly<{ kind: "starting"; frames: number; needed: number }>
  | (Readonly<{
      /** Frames between false alarms at the edge, and frames that are known as usual by now. */
      runLength: number;
      known: number;
    }> &
      (
        | Readonly<{ kind: "size"; lower: number | null; upper: number | null }>
        | Readonly<{ kind: "form"; upper: number }>
        | Readonly<{ kind: "vector"; radius: number }>
      ));

/**
 * @param watched - where the stream stands; undefined before its first frame
 * @param needed - frames of a starting stretch
 */
export function schemeOf(watched: WatchedStream | undefined, needed: number): StreamScheme {
  const running = watched?.running ?? null;
  if (running === null) return { kind: "starting", frames: watched?.starting.length ?? 0, needed };
  const { scheme, state, runLength } = running;
  if (scheme.kind === "size" && state.kind === "size")
    return { kind: "size", lower: scheme.lower, upper: scheme.upper, runLength, known: state.baseline.count };
  if (scheme.kind === "form" && state.kind === "form") {
    const { sorted } = state.baseline;
    const middle = sampleMean(sorted);
    const known = sorted.length;
    // A size whose gauge does not resolve it is ranked on both sides.
    return scheme.lowerShift === undefined
      ? { kind: "form", upper: middle + scheme.shift, runLength, known }
      : { kind: "size", lower: middle - scheme.lowerShift, upper: middle + scheme.shift, runLength, known };
  }
  const radius = scheme.kind === "vector" ? scheme.radius : 0;
  return { kind: "vector", radius, runLength, known: state.kind === "vector" ? state.baseline.count : 0 };
}
