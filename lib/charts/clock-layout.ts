import type { Seat } from "@/lib/core/metrology/reading-name";
import { directionWords, formatClockSeenFrom } from "@/lib/format/clock-text";
import { clockPoint, type ClockFace, type Point } from "./clock-face";
import { boxesOverlap, labelBox, type Box, type Label } from "./label-box";

/** One direction or position on the clock: asked for now, read already, or still to come. */
export type ClockMark = {
  /** Degrees clockwise from 12 as seen from the drive side. */
  readonly angleDeg: number;
  /** A diameter through two positions, or one position on the rim. */
  readonly span: "diameter" | "position";
  readonly state: "asked" | "read" | "to come";
  /** The value read, without its unit. */
  readonly text?: string;
};

export type ClockLine = { readonly from: Point; readonly to: Point; readonly state: ClockMark["state"] };
export type ClockDot = Point & { readonly state: ClockMark["state"] };
export type ClockPlate = Point & { readonly text: string };

export type ClockLayout = {
  readonly lines: readonly ClockLine[];
  readonly dots: readonly ClockDot[];
  /** Numerals at the ends of what is asked, on filled plates. */
  readonly plates: readonly ClockPlate[];
  readonly labels: readonly (Label & { readonly asked: boolean })[];
};

const VALUE_SIZE = 18;
const ASKED_SIZE = 20;
/** Where along the radius a value may stand, nicest first. */
const SHARES = [0.72, 0.55, 0.62, 0.42, 0.82] as const;

function placeLabel(
  text: string,
  face: ClockFace,
  radius: number,
  angleDeg: number,
  taken: readonly Box[],
): Label | null {
  for (const end of [angleDeg, angleDeg + 180]) {
    for (const share of SHARES) {
      const point = clockPoint(face, radius * share, end);
      const label: Label = { text, x: point.x, y: point.y + VALUE_SIZE * 0.35, anchor: "middle", size: VALUE_SIZE };
      const box = labelBox(label);
      const inside = [box.left, box.right].every((x) =>
        [box.top, box.bottom].every((y) => Math.hypot(x - face.cx, y - face.cy) < radius - 2),
      );
      if (inside && !taken.some((other) => boxesOverlap(other, box))) return label;
    }
  }
  return null;
}

function plateOf(face: ClockFace, radius: number, angleDeg: number): ClockPlate {
  return { ...clockPoint(face, radius, angleDeg), text: formatClockSeenFrom(angleDeg, face.side) };
}

/**
 * Directions and positions on a clock face. Values that would run into each other are left out: the table has them.
 *
 * @param radius - of the bore, pixels
 * @param plateRadius - where numerals stand, pixels
 */
export function layoutClock(
  face: ClockFace,
  { radius, plateRadius }: { readonly radius: number; readonly plateRadius: number },
  marks: readonly ClockMark[],
): ClockLayout {
  const lines: ClockLine[] = [];
  const dots: ClockDot[] = [];
  const plates: ClockPlate[] = [];
  const labels: (Label & { asked: boolean })[] = [];
  const taken: Box[] = [];
  const asked = marks.find((mark) => mark.state === "asked");
  const words = asked?.span === "diameter" ? directionWords(asked.angleDeg) : null;
  if (asked && words) {
    const label: Label = { text: words, x: face.cx, y: face.cy + 30, anchor: "middle", size: ASKED_SIZE };
    labels.push({ ...label, asked: true });
    taken.push(labelBox(label));
  }
  for (const mark of marks) {
    if (mark.span === "diameter") {
      const inset = mark.state === "asked" ? 2 : 3;
      const from = clockPoint(face, radius - inset, mark.angleDeg);
      const to = clockPoint(face, radius - inset, mark.angleDeg + 180);
      lines.push({ from, to, state: mark.state });
    } else {
      dots.push({ ...clockPoint(face, radius, mark.angleDeg), state: mark.state });
      if (mark.state === "asked")
        lines.push({
          from: { x: face.cx, y: face.cy },
          to: clockPoint(face, radius - 9, mark.angleDeg),
          state: "asked",
        });
    }
    if (mark.state === "asked") {
      plates.push(plateOf(face, plateRadius, mark.angleDeg));
      if (mark.span === "diameter") plates.push(plateOf(face, plateRadius, mark.angleDeg + 180));
    }
    if (mark.span === "diameter" && mark.state !== "asked" && mark.text) {
      const label = placeLabel(mark.text, face, radius, mark.angleDeg, taken);
      if (label) {
        labels.push({ ...label, asked: false });
        taken.push(labelBox(label));
      }
    }
  }
  return { lines, dots, plates, labels };
}

/** The words under a clock: which seat, and from where it is seen. */
export function clockCaption(seat: Seat | null, side: Seat): string {
  const from = side === "ds" ? "seen from the drive side" : "seen from the non-drive side";
  return seat ? `${seat === "ds" ? "DS" : "NDS"} seat, ${from}` : from;
}
