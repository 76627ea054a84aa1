import { formatClock, type Seat } from "@/lib/core/metrology/reading-name";

/** Whole turns taken out: any finite angle to [0, 360). */
function turned(angleDeg: number): number {
  return ((angleDeg % 360) + 360) % 360;
}

/**
 * The angle as it looks from one side: unchanged from the drive side, mirrored from the non-drive side.
 *
 * @param angleDeg - degrees clockwise from 12 as seen from the drive side
 * @returns degrees clockwise from 12 as seen from `side`, in [0, 360)
 */
export function angleSeenFrom(angleDeg: number, side: Seat): number {
  return turned(side === "ds" ? angleDeg : -angleDeg);
}

/** The clock position as seen from a side: 120 -> "4" from the DS, "8" from the NDS. */
export function formatClockSeenFrom(angleDeg: number, side: Seat): string {
  return formatClock(angleSeenFrom(angleDeg, side));
}

/** A position in words: "4 o’clock", "4:30". */
export function formatOclock(angleDeg: number, side: Seat = "ds"): string {
  const clock = formatClockSeenFrom(angleDeg, side);
  return clock.includes(":") ? clock : `${clock}\u00a0o’clock`;
}

/** A diameter by its two clock positions as seen from a side: 45 -> "1:30–7:30" from the DS, "10:30–4:30" from the NDS. */
export function formatDirection(directionDeg: number, side: Seat = "ds"): string {
  return `${formatClockSeenFrom(directionDeg, side)}–${formatClockSeenFrom(directionDeg + 180, side)}`;
}

/** What a direction means on the frame; the halves between get no words of their own. */
export function directionWords(directionDeg: number): string | null {
  const direction = turned(directionDeg) % 180;
  if (direction === 0) return "top to bottom";
  if (direction === 90) return "front to rear";
  return null;
}

/** The caption of every clock: from where it is seen. */
export function formatSideOfView(side: Seat): string {
  return side === "ds" ? "seen from the drive side" : "seen from the non-drive side";
}

export function formatSeat(seat: Seat): string {
  return seat === "ds" ? "DS" : "NDS";
}
