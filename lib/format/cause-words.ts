import type { CauseEvidence, CausePoint, Share } from "../quality/cause-side";
import { formatCounted } from "./number-text";

/** A moment in words, in the plant's own time. */
type SayMoment = (time: Date) => string;

/** A point of the evidence on whose cause it is, as it is kept and shown. */
export type ToldCausePoint = Pick<CausePoint, "code" | "side" | "weight"> & { readonly text: string };
export type ToldCause = Pick<CauseEvidence, "side"> & { readonly points: readonly ToldCausePoint[] };

const of = ({ failed, measured }: Share): string => `${failed} of ${formatCounted(measured, "measured frame")}`;

function pointText(point: CausePoint, say: SayMoment): string {
  switch (point.code) {
    case "incoming":
      return `They failed at ${point.operations.join(", ")}, before we worked on them.`;
    case "after-work":
      return `They were measured at ${point.operations.join(", ")} only, after our own work: nobody measured them when they came in.`;
    case "one-mould":
      return `${point.failed} of the ${point.of} that failed come from mould ${point.mould}.`;
    case "supplier-before":
      return `Other batches of this supplier and model had the same trouble: ${of(point.share)} in 90 days did not conform.`;
    case "supplier-clean":
      return `Other batches of this supplier and model were good: ${of(point.share)} in 90 days did not conform.`;
    case "neighbours-too":
      return `Shells of other suppliers failed on this line in the same days: ${of(point.share)}.`;
    case "neighbours-clean":
      return `Shells of other suppliers were good on this line in the same days: ${of(point.share)} did not conform.`;
    case "case":
      return `Case ${point.number}, which explains it, has the likely cause: ${point.cause}.`;
    case "gauge":
      return `${point.gauges.join(", ")}, which measured them, failed a zero check or had no calibration then.`;
    case "event":
      return `${of(point.share)} failed ${point.when} this on the line: ${point.kind}, ${say(point.at)}.`;
  }
}

/**
 * Whose cause the evidence speaks for, in sentences with their numbers.
 *
 * @param say - writes a moment in the plant's own time
 */
export function toldCause({ side, points }: CauseEvidence, say: SayMoment): ToldCause {
  return {
    side,
    points: points.map((point) => ({
      code: point.code,
      side: point.side,
      weight: point.weight,
      text: pointText(point, say),
    })),
  };
}
