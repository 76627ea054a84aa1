import type { BarPassage, PlugFeel, ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import { formatClockSeenFrom, formatDirection, formatOclock, formatSeat } from "./clock-text";
import { formatDegrees, formatFixed, withUnit, type DecimalSign } from "./number-text";

export type ReadingText = { readonly title: string; readonly detail: string };

/** A depth or a nominal size as short as it was written: "2 mm", "1.5 mm". */
export function formatDepth(depthMm: number, decimal: DecimalSign = "."): string {
  const digits = Number.isInteger(depthMm) ? 0 : Number.isInteger(depthMm * 10) ? 1 : 2;
  return withUnit(formatFixed(depthMm, digits, decimal), "mm");
}

/** What is asked for, as the two lines over the number: where, and how. Clock positions as seen from `side`. */
export function formatReading(name: ReadingName, side: Seat, decimal: DecimalSign = "."): ReadingText {
  switch (name.kind) {
    case "bore":
      return {
        title: `${formatSeat(name.seat)} seat, ${formatDirection(name.directionDeg, side)}`,
        detail: `${formatDepth(name.depthMm, decimal)} deep`,
      };
    case "sweep":
      return {
        title: `${formatSeat(name.seat)} sweep at ${formatSweepAngle(name.angleDeg, side)}`,
        detail:
          name.angleDeg === 360
            ? `closing reading, ${formatDepth(name.depthMm, decimal)} deep`
            : `indicator on the other seat’s axis, ${formatDepth(name.depthMm, decimal)} deep`,
      };
    case "face":
      return {
        title: `${formatSeat(name.seat)} face at ${formatSweepAngle(name.angleDeg, side)}`,
        detail: name.angleDeg === 360 ? "closing reading, outward is plus" : "outward is plus",
      };
    case "width":
      return { title: `Shell width at ${formatOclock(name.clockDeg, side)}`, detail: "over both faces" };
    case "plug":
      return {
        title: `${formatSeat(name.seat)} ${name.across === true ? "rod" : "plug"} ${withUnit(formatPlugSize(name.sizeMm, decimal), "mm")}`,
        detail:
          name.across === true
            ? "across, in every direction, at both ends of the seat: passes, touches or will not pass"
            : "slides, hand pressure or will not enter",
      };
    case "bar":
      return { title: `Gauge bar ${name.set}`, detail: "free, stiff at a clock position, or will not pass" };
  }
}

/** The size of a plug as it is marked: two decimals, three where it has them. */
export function formatPlugSize(sizeMm: number, decimal: DecimalSign = "."): string {
  return formatFixed(sizeMm, Number.isInteger(Math.round(sizeMm * 1e6) / 1e4) ? 2 : 3, decimal);
}

const FEEL_WORDS = { slides: "slides", hand: "hand pressure", no: "will not enter" } as const;
/** A rod tried across a seat enters any: what counts is whether it gets past the diameter. */
const ROD_WORDS = { slides: "passes", hand: "touches", no: "will not pass" } as const;

/** How a plug went in, a rod across passed or a bar went through: "hand pressure", "touches", "stiff at 2 o’clock". */
export function formatFelt(word: PlugFeel | BarPassage, name: ReadingName | null, side: Seat): string {
  if (typeof word === "string") return (name?.kind === "plug" && name.across === true ? ROD_WORDS : FEEL_WORDS)[word];
  if (word.result === "stiff") return `stiff at ${formatOclock(word.clockDeg, side)}`;
  return word.result === "no" ? "will not pass" : "free";
}

/** One reading in a sentence: "DS seat, 12–6, 2 mm deep", "NDS sweep at 12 o’clock, 8 mm deep, closing". */
export function formatReadingInWords(name: ReadingName, side: Seat, decimal: DecimalSign = "."): string {
  const { title } = formatReading(name, side, decimal);
  const deep = "depthMm" in name ? `, ${formatDepth(name.depthMm, decimal)} deep` : "";
  return `${title}${deep}${"angleDeg" in name && name.angleDeg === 360 ? ", closing" : ""}`;
}

function formatSweepAngle(angleDeg: number, side: Seat): string {
  const isClockPosition = angleDeg % 15 === 0;
  return isClockPosition
    ? formatOclock(angleDeg, side)
    : `${formatDegrees(side === "ds" ? angleDeg : 360 - angleDeg)} (${formatClockSeenFrom(angleDeg, side)})`;
}
