import "server-only";
import {
  estimatedLimitsRunLength,
  type RunLengthInterval,
} from "@/lib/core/control/run-length/estimated-limits-run-length";
import { FEATURE_NAMES, featureBeside, featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import { rulesOf, streamValue } from "@/lib/quality/control-limits";
import { AppError } from "@/lib/errors";
import { stabilityOf } from "@/lib/core/capability/stability-of";
import { CAPABILITY_FRAMES, type StreamCapability } from "@/lib/quality/stream-capability";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { compute } from "../compute/compute";
import { readChartedFrames, streamOf } from "./charted-frames";
import { readLimits, readStreamHead } from "./queries";
import { casesOfFeature, readGroupCases, stabilityBeside } from "./stream-cases";
import { forgetComputed, rememberComputed } from "./remember-computed";
import { toleranceOf } from "./stream-tolerance";

/** Every two-point size is judged, so a bore's smallest and largest are held against the limits, not its mean. */
export function featuresHeld(feature: FeatureName): { readonly lower: FeatureName; readonly upper: FeatureName } {
  if (featureNamed(feature).statistic !== "mean") return { lower: feature, upper: feature };
  return { lower: featureBeside(feature, "smallest") ?? feature, upper: featureBeside(feature, "largest") ?? feature };
}

/**
 * Capability of a stream over its newest 300 frames, or why there is none: stability first.
 *
 * @throws AppError not-found
 */
export async function getStreamCapability(viewer: Viewer, id: string): Promise<StreamCapability> {
  assertMay(viewer, "drift.view");
  const head = await readStreamHead(viewer.plantId, id);
  const stream = streamOf(head.feature);
  const [frames, limits, cases] = await Promise.all([
    readChartedFrames(viewer.plantId, head, CAPABILITY_FRAMES),
    head.limitSetId === null ? null : readLimits(viewer.plantId, head.limitSetId),
    readGroupCases(viewer.plantId, head),
  ]);
  const charted = frames.filter((frame) => streamValue(stream, frame.features) !== null);
  const own = casesOfFeature(cases, head.feature);
  const open = own.flatMap(({ state, stands, number }) => (state === "open" && stands ? [number] : []));
  const key = `capability ${head.id} ${limits?.id} ${charted.length} ${charted.at(-1)?.inspectionId} ${open.join()}`;
  const answer = rememberComputed(key, () => {
    const tolerance = toleranceOf(head.drawing, head.feature);
    const held = featuresHeld(head.feature);
    const valuesOf = (feature: FeatureName) =>
      charted.flatMap(({ features }) => {
        const value = features[FEATURE_NAMES.indexOf(feature)] ?? null;
        return value === null ? [] : [stream.absolute ? Math.abs(value) : value];
      });
    const beyond =
      limits === null
        ? 0
        : charted.filter(({ features }) => {
            const value = streamValue(stream, features) ?? limits.center;
            return value > (limits.upper ?? Infinity) || value < (limits.lower ?? -Infinity);
          }).length;
    return compute("stream-capability", {
      lower: tolerance?.lower ?? null,
      upper: tolerance?.upper ?? null,
      againstLower: valuesOf(held.lower),
      againstUpper: valuesOf(held.upper),
      characteristic: streamSubject(head.feature).characteristic,
      stability: stabilityBeside(
        own,
        limits === null
          ? { verdict: "not-judged", because: "there are no control limits yet" }
          : stabilityOf(beyond, charted.length),
      ),
    });
  });
  try {
    return await answer;
  } catch (error) {
    forgetComputed(key);
    if (error instanceof AppError && error.code === "unavailable")
      return {
        ok: false,
        code: "busy",
        reason: "It is not computed yet: other calculations go first. Look again in a moment.",
      };
    throw error;
  }
}

/**
 * Frames between false alarms of the zone tests under limits from a baseline of this many frames.
 *
 * @returns null for quantile limits, whose false alarms depend on the fitted distribution
 */
export function runLengthOf(kind: "individuals" | "quantile", frames: number): RunLengthInterval | null {
  if (kind === "quantile" || frames < 5) return null;
  return rememberComputed(`run length ${frames}`, () =>
    estimatedLimitsRunLength({ chart: "rules", rules: rulesOf(kind) }, { points: frames }),
  );
}
