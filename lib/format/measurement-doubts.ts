import type { MeasurementWarning, UnseenDirection } from "@/lib/core/metrology/measurement-checks";
import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import { formatClockSeenFrom, formatSeat } from "./clock-text";
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

/**
 * Asks for the first two angles of sweeps whose readings cannot tell which way round they were keyed, one question for
 * sections of a seat that begin alike.
 *
 * @param side - from where clock positions are seen
 */
export function directionQuestions(
  unseen: readonly UnseenDirection[],
  side: Seat,
  decimal: DecimalSign = ".",
): readonly string[] {
  const alike = new Map<string, UnseenDirection[]>();
  for (const one of unseen) {
    const key = `${one.seat} ${one.firstDeg.join(" ")}`;
    alike.set(key, [...(alike.get(key) ?? []), one]);
  }
  return [...alike.values()].flatMap((sections) => {
    const [first] = sections;
    if (first === undefined) return [];
    const depths = sections.map(({ depthMm }) => formatDepth(depthMm, decimal)).join(" and ");
    const [from, to] = first.firstDeg.map((angle) => formatClockSeenFrom(angle, side));
    return [
      `Did the ${formatSeat(first.seat)} sweep, ${depths} deep, begin at ${from} and go on at ${to}? ` +
        "Its readings cannot tell; the other way round mirrors the offset.",
    ];
  });
}
