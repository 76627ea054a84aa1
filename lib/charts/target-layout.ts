import { formatFixed } from "../format/number-text";
import type { Seat } from "@/lib/core/metrology/reading-name";
import { clockPoint, px, type ClockFace, type Point } from "./clock-face";
import { boxesOverlap, labelBox, type Box, type Label } from "./label-box";

/** A point of the target: offset of an axis towards 12 and towards 3, µm. */
export type Offset = { readonly towards12Um: number; readonly towards3Um: number };

export type TargetInput = {
  readonly side: Seat;
  readonly sizePx: number;
  /** Diameter of the coaxiality zone; the limit circle has half of it as its radius. */
  readonly zoneUm: number;
  readonly baseline: readonly Offset[];
  readonly recent: readonly (Offset & { readonly serial: string })[];
  /** Mean of the recent frames and the radius of its confidence circle. */
  readonly mean: (Offset & { readonly circleUm: number | null }) | null;
  /** Ellipse that holds a stated share of frames: half axes and direction of the long one, degrees from 12. */
  readonly ellipse:
    (Offset & { readonly longUm: number; readonly shortUm: number; readonly directionDeg: number }) | null;
  /** Whether the mean is far enough out that moving it is advised. */
  readonly adviseMove: boolean;
};

export type TargetLayout = {
  readonly face: ClockFace;
  readonly outerRadius: number;
  readonly boreRadius: number;
  readonly numeralRadius: number;
  readonly limitRadius: number;
  readonly rings: readonly { readonly radius: number; readonly label: string | null }[];
  readonly baselineDots: string;
  readonly insideDots: string;
  readonly outside: readonly (Point & { readonly serial: string; readonly label: Label | null })[];
  readonly mean: (Point & { readonly circleRadius: number }) | null;
  readonly move: { readonly from: Point; readonly to: Point } | null;
  readonly ellipse: (Point & { readonly rx: number; readonly ry: number; readonly turnDeg: number }) | null;
};

const RING_UM = 10;
const SERIAL_SIZE = 14;

const dotPath = (points: readonly Point[]): string =>
  points.map((point) => `M${px(point.x)} ${px(point.y)}h0`).join("");

function ringStep(limitUm: number): number {
  let step = RING_UM;
  while (limitUm / step > 6) step *= limitUm / step > 12 ? 5 : 2;
  return step;
}

function placeSerials(points: readonly (Point & { serial: string })[], width: number): TargetLayout["outside"] {
  const taken: Box[] = points.map(({ x, y }) => ({ left: x - 9, right: x + 9, top: y - 9, bottom: y + 9 }));
  return points.map((point, index) => {
    const tail = point.serial.slice(-5);
    const places: readonly Label[] = [
      { text: tail, x: point.x + 14, y: point.y + 5, anchor: "start", size: SERIAL_SIZE },
      { text: tail, x: point.x - 14, y: point.y + 5, anchor: "end", size: SERIAL_SIZE },
      { text: tail, x: point.x, y: point.y - 13, anchor: "middle", size: SERIAL_SIZE },
      { text: tail, x: point.x, y: point.y + 22, anchor: "middle", size: SERIAL_SIZE },
    ];
    const label = places.find((place) => {
      // The mono face is wider than the narrow one that boxes are reckoned in.
      const box = labelBox({ ...place, size: SERIAL_SIZE * 1.15 });
      return box.right < width && box.left > 0 && !taken.some((other, at) => at !== index && boxesOverlap(other, box));
    });
    if (label) taken.push(labelBox({ ...label, size: SERIAL_SIZE * 1.15 }));
    return { ...point, label: label ?? null };
  });
}

/** The target: where the NDS axis of each frame lies from the DS axis, on the clock, with the zone as the heaviest line. */
export function layoutTarget(input: TargetInput): TargetLayout {
  const { side, sizePx, zoneUm, mean, ellipse } = input;
  const face: ClockFace = { cx: sizePx / 2, cy: sizePx / 2, side };
  const numeralRadius = sizePx * 0.463;
  const outerRadius = sizePx * 0.434;
  const boreRadius = sizePx * 0.405;
  const limitUm = zoneUm / 2;
  const furthest = Math.max(
    ...[...input.baseline, ...input.recent].map((each) => Math.hypot(each.towards12Um, each.towards3Um)),
    0,
  );
  const reachUm = Math.min(Math.max(limitUm * 1.2, furthest * 1.08), limitUm * 2.4);
  const pxPerUm = boreRadius / reachUm;
  const at = ({ towards12Um, towards3Um }: Offset): Point => {
    const radius = Math.min(Math.hypot(towards12Um, towards3Um) * pxPerUm, boreRadius);
    return clockPoint(face, radius, (Math.atan2(towards3Um, towards12Um) * 180) / Math.PI);
  };
  const isOutside = (each: Offset) => Math.hypot(each.towards12Um, each.towards3Um) > limitUm;
  const step = ringStep(limitUm);
  const rings = Array.from({ length: Math.ceil(limitUm / step) - 1 }, (_, index) => (index + 1) * step);
  const centre = { x: face.cx, y: face.cy };
  const meanPoint = mean ? at(mean) : null;
  return {
    face,
    outerRadius,
    boreRadius,
    numeralRadius,
    limitRadius: limitUm * pxPerUm,
    rings: rings.map((ring, index) => ({
      radius: ring * pxPerUm,
      label: index % 2 === 1 ? formatFixed(ring / 1000, 2) : null,
    })),
    baselineDots: dotPath(input.baseline.map(at)),
    insideDots: dotPath(input.recent.filter((each) => !isOutside(each)).map(at)),
    outside: placeSerials(
      input.recent.filter(isOutside).map((each) => ({ ...at(each), serial: each.serial })),
      sizePx,
    ),
    mean: meanPoint ? { ...meanPoint, circleRadius: Math.max(4, (mean?.circleUm ?? 0) * pxPerUm) } : null,
    move: meanPoint && input.adviseMove ? { from: meanPoint, to: centre } : null,
    ellipse: ellipse
      ? {
          ...at(ellipse),
          rx: ellipse.longUm * pxPerUm,
          ry: ellipse.shortUm * pxPerUm,
          turnDeg: (side === "ds" ? ellipse.directionDeg : -ellipse.directionDeg) - 90,
        }
      : null,
  };
}
