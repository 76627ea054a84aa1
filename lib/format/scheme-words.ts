import type { FeatureName } from "../core/metrology/features";
import type { StreamScheme } from "../quality/alarm/stream-scheme";
import { formatCount, formatCounted, formatFixed, withUnit } from "./number-text";
import { formatStreamValue } from "./stream-words";

function edgeWords(scheme: Exclude<StreamScheme, { kind: "starting" }>, feature: FeatureName): string {
  const say = (value: number) => formatStreamValue(value, feature);
  switch (scheme.kind) {
    case "size": {
      const edges = [scheme.lower, scheme.upper].flatMap((edge) => (edge === null ? [] : [say(edge)]));
      if (edges.length === 0) return "from its usual mean, since the drawing leaves no room for change";
      const from =
        edges.length === 1
          ? `the edge of its region in control, ${edges[0]}`
          : `the edges of its region in control, ${edges.join(" and ")}`;
      return `from ${from}: what drawing, zero check and ordinary differences leave it`;
    }
    case "form":
      return `from the edge of its region in control, ${say(scheme.upper)}: what the drawing and ordinary differences leave it`;
    case "vector":
      return scheme.radius > 0
        ? `of the offset it belongs to, from the edge of a circle of ${withUnit(formatFixed(scheme.radius, 1), "µm")} about its usual place`
        : "of the offset it belongs to, from its usual place, since the drawing leaves no room for change";
  }
}

/** How a stream is tested, in two sentences. */
export function schemeWords(scheme: StreamScheme | null, feature: FeatureName): string {
  if (scheme === null) return "Nothing is tested yet. Cases are looked for within a minute of the first frame.";
  if (scheme.kind === "starting")
    return `It gathers the frames that are usual for it, ${scheme.frames} of ${scheme.needed}. Until then only a frame outside its limit makes a case.`;
  return `Two sums and a limit are counted ${edgeWords(scheme, feature)}. A false case comes once in about ${formatCounted(Math.round(scheme.runLength), "frame")} at that edge, seldomer within; ${formatCount(scheme.known)} frames are known as usual.`;
}
