import { formatMm, formatSizeMm, type DecimalSign } from "../format/number-text";
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
  readonly decimal?: DecimalSign;
};

export type TargetLabelKind = "limit" | "zone" | "mean" | "ring" | "serial";
export type TargetLabel = Label & { readonly kind: TargetLabelKind };

export type TargetLayout = {
  readonly face: ClockFace;
  readonly outerRadius: number;
  readonly boreRadius: number;
  readonly numeralRadius: number;
  readonly limitRadius: number;
  readonly rings: readonly number[];
  readonly baselineDots: string;
  readonly insideDots: string;
  readonly outside: readonly (Point & { readonly serial: string })[];
  /** The mean, its confidence circle, and where the line to its words ends. */
  readonly mean: (Point & { readonly circleRadius: number; readonly leaderTo: Point | null }) | null;
  readonly move: { readonly from: Point; readonly to: Point } | null;
  readonly ellipse: (Point & { readonly rx: number; readonly ry: number; readonly turnDeg: number }) | null;
  /** Words and numbers, none of which meets another or a marked frame; what finds no room is left out. */
  readonly labels: readonly TargetLabel[];
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

/** The mono face is wider than the narrow one that boxes are reckoned in. */
const MONO_SHARE = 1.15;

function boxOf(label: TargetLabel): Box {
  const { left, right, top, bottom } = labelBox(
    label.kind === "serial" ? { ...label, size: label.size * MONO_SHARE } : label,
  );
  return { left: left - 2, right: right + 2, top, bottom };
}

const around = ({ x, y }: Point, reach: number): Box => ({
  left: x - reach,
  right: x + reach,
  top: y - reach,
  bottom: y + reach,
});

/** Gives labels places, first come first served: the first of its places at which a group of labels meets nothing. */
function makePlacer(width: number, taken: Box[]) {
  const labels: TargetLabel[] = [];
  const place = (places: readonly (readonly TargetLabel[])[], own?: Box): number => {
    const found = places.findIndex((group) =>
      group
        .map(boxOf)
        .every(
          (box) =>
            box.left > 0 &&
            box.right < width &&
            box.top > 0 &&
            box.bottom < width &&
            !taken.some((other) => other !== own && boxesOverlap(other, box)),
        ),
    );
    for (const label of places[found] ?? []) {
      labels.push(label);
      taken.push(boxOf(label));
    }
    return found;
  };
  return { labels, place };
}

/** The four corners about the centre at which two lines under each other may stand. */
function limitPlaces({ cx, cy }: ClockFace, reach: number, lines: readonly [limit: string, zone: string]) {
  return ([-1, 1] as const).flatMap((down) =>
    ([-1, 1] as const).map((right): readonly TargetLabel[] => {
      const at = { x: cx + right * reach, anchor: right < 0 ? ("start" as const) : ("end" as const) };
      return [
        { kind: "limit", text: lines[0], ...at, y: cy + down * reach, size: 16 },
        { kind: "zone", text: lines[1], ...at, y: cy + down * reach + 18, size: 14 },
      ];
    }),
  );
}

/** Where the words of the mean may stand, off to one side of it, each with the end of the line that leads there. */
function meanPlaces({ x, y }: Point, text: string): readonly (readonly [TargetLabel, Point])[] {
  const ways = [
    [-44, 116],
    [44, 116],
    [-44, -116],
    [44, -116],
    [-150, 60],
    [150, 60],
    [-150, -60],
    [150, -60],
  ] as const;
  return ways.map(([dx, dy]) => {
    const end = { x: x + dx, y: y + dy };
    return [{ kind: "mean", text, x: end.x, y: end.y + (dy > 0 ? 18 : -6), anchor: "middle", size: 17 }, end];
  });
}

function serialPlaces({ x, y, serial }: Point & { serial: string }): readonly (readonly TargetLabel[])[] {
  const label = { kind: "serial", text: serial.slice(-5), size: SERIAL_SIZE } as const;
  return [
    [{ ...label, x: x + 14, y: y + 5, anchor: "start" }],
    [{ ...label, x: x - 14, y: y + 5, anchor: "end" }],
    [{ ...label, x, y: y - 13, anchor: "middle" }],
    [{ ...label, x, y: y + 24, anchor: "middle" }],
  ];
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
  const limitRadius = limitUm * pxPerUm;
  const outside = input.recent.filter(isOutside).map((each) => ({ ...at(each), serial: each.serial }));
  const marks = outside.map((point) => around(point, 10));
  const meanPoint = mean ? { ...at(mean), circleRadius: Math.max(4, (mean.circleUm ?? 0) * pxPerUm) } : null;
  const taken = [...marks, ...(meanPoint ? [around(meanPoint, Math.max(12, meanPoint.circleRadius))] : [])];
  const { labels, place } = makePlacer(sizePx, taken);
  const sizeOf = (um: number) => formatSizeMm(um / 1000, 0.001, input.decimal);
  place(limitPlaces(face, limitRadius * 0.66, [`limit ${sizeOf(limitUm)}`, `zone ø ${sizeOf(zoneUm)} mm`]));
  const meanMm = mean ? Math.hypot(mean.towards12Um, mean.towards3Um) / 1000 : 0;
  const words = meanPoint ? meanPlaces(meanPoint, `mean ${formatMm(meanMm, 0.001, input.decimal)}`) : [];
  const leaderTo = words[place(words.map(([label]) => [label]))]?.[1] ?? null;
  outside.forEach((point, index) => place(serialPlaces(point), marks[index]));
  rings.forEach((ring, index) => {
    if (index % 2 === 0) return;
    const text = formatSizeMm(ring / 1000, 0.01, input.decimal);
    place([[{ kind: "ring", text, x: face.cx - 5, y: face.cy - ring * pxPerUm + 5, anchor: "end", size: 14 }]]);
  });
  return {
    face,
    outerRadius,
    boreRadius,
    numeralRadius,
    limitRadius,
    rings: rings.map((ring) => ring * pxPerUm),
    baselineDots: dotPath(input.baseline.map(at)),
    insideDots: dotPath(input.recent.filter((each) => !isOutside(each)).map(at)),
    outside,
    mean: meanPoint ? { ...meanPoint, leaderTo } : null,
    move: meanPoint && input.adviseMove ? { from: meanPoint, to: centre } : null,
    ellipse: ellipse
      ? {
          ...at(ellipse),
          rx: ellipse.longUm * pxPerUm,
          ry: ellipse.shortUm * pxPerUm,
          turnDeg: (side === "ds" ? ellipse.directionDeg : -ellipse.directionDeg) - 90,
        }
      : null,
    labels,
  };
}
