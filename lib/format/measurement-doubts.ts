import type { MeasurementWarning } from "@/lib/core/metrology/measurement-checks";
import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import { formatSeat } from "./clock-text";
import { type DecimalSign, formatDegrees, formatDeviationUm, formatUm } from "./number-text";
import { formatDepth, formatReading } from "./reading-text";

/**
 * A doubt about readings in a sentence, with what to do about it.
 *
 * @param warning - from measureFrame
 * @param names - the plan's readings
 * @param side - from where clock positions are seen
 */
export function measurementDoubt(
  warning: MeasurementWarning,
  names: readonly ReadingName[],
  side: Seat,
  decimal: DecimalSign = ".",
): string {
  const seat = warning.seat === null ? "" : `${formatSeat(warning.seat)} `;
  const depth = warning.depthMm === null ? "" : `, ${formatDepth(warning.depthMm, decimal)} deep,`;
  const reading = warning.readingIndex === null ? undefined : names[warning.readingIndex];
  switch (warning.code) {
    case "sweep-not-closed":
      return (
        `The ${seat}sweep${depth} does not close: ${formatDeviationUm(warning.value, 1, decimal)} at the end` +
        `${warning.limit === null ? "" : `, at most ${formatUm(warning.limit, 1, decimal)}`}. Sweep again.`
      );
    case "sweep-outlier":
    case "face-outlier": {
      const where =
        reading === undefined ? `A reading of the ${seat}sweep${depth}` : formatReading(reading, side, decimal).title;
      return `${where} does not fit the others: ${formatDeviationUm(warning.value, 0, decimal)}. Read it again.`;
    }
    case "sweep-maybe-reversed":
      return (
        `The ${seat}sweep${depth} may be keyed the wrong way round: its oval lies ${formatDegrees(warning.value)} from that ` +
        "of the diameters. Check the first two angles."
      );
    case "width-disagrees-with-faces":
      return (
        `Widths and faces disagree by ${formatUm(warning.value, 0, decimal)}` +
        `${warning.limit === null ? "" : `, at most ${formatUm(warning.limit, 0, decimal)} by chance`}: one of them was misread.`
      );
  }
}
