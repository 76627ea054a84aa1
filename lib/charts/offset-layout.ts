import type { Seat } from "@/lib/core/metrology/reading-name";
import { formatOclock, formatSideOfView } from "@/lib/format/clock-text";
import { formatCount, formatMm, formatSizeMm, type DecimalSign } from "@/lib/format/number-text";
import { clockPoint, enlargementFactor, linePath, px, type ClockFace, type Point } from "./clock-face";
import type { Label } from "./label-box";
import type { ShellDimensions } from "./shell-asked";
import { layoutShellSection, type ShellSection } from "./shell-section";

/** Where the NDS seat's axis lies against the DS axis (datum), µm, at the middle of the seat, and how it runs. */
export type AxisOffset = {
  readonly towards12Um: number;
  readonly towards3Um: number;
  /** µm per mm of depth along the shell, DS to NDS; null where only one section was measured. */
  readonly slope12UmPerMm: number | null;
};

export type OffsetInput = {
  readonly drawing: ShellDimensions;
  readonly offset: AxisOffset;
  /** Zone diameter found and its limit, µm. */
  readonly zoneUm: number;
  readonly limitUm: number | null;
  readonly meansMm?: Partial<Record<Seat, number>>;
  readonly side?: Seat;
  readonly decimal?: DecimalSign;
};

export type OffsetLabelKind = "name" | "note" | "axis" | "finding" | "zone";

export type OffsetLayout = {
  readonly width: number;
  readonly height: number;
  readonly section: ShellSection;
  /** The NDS axis in the section, and the limit on either side of the datum's axis; by the same scale as on the clock. */
  readonly axis: string;
  readonly limits: string;
  readonly face: ClockFace;
  readonly clockRadius: number;
  readonly numeralRadius: number;
  /** Radius of the limit circle; null without a limit. */
  readonly limitRadius: number | null;
  /** Where the NDS axis stands on the clock. */
  readonly tip: Point;
  /** How many times larger both views show the offset. */
  readonly factor: number;
  readonly labels: readonly (Label & { readonly kind: OffsetLabelKind })[];
  /** "0.003 mm to 4 o'clock": the finding in words. */
  readonly where: string;
  readonly zone: string;
};

const WIDTH = 438;
const CLOCK_RADIUS = 74;
/** The limit circle fills this, offsets beyond it reach to the clock's edge, pixels. */
const LIMIT_ROOM = 60;
const OFFSET_ROOM = 70;
/** Where a drawing has no limit, this offset fills the picture, µm: half of the zone of the demonstration drawings. */
const USUAL_LIMIT_UM = 50;
/** Under this an offset is 0.000 mm to the reader, µm. */
const LEAST_SHOWN_UM = 0.5;
const NAME_SIZE = 20;
const NOTE_SIZE = 17;
const NOTE_STEP = 23;

/** Enlargement with which the limit fills the picture and an offset beyond it stays inside. */
function scaleOf(offsetUm: number, limitUm: number | null, pxPerMm: number): number {
  const half = limitUm === null ? USUAL_LIMIT_UM : limitUm / 2;
  return Math.min(
    enlargementFactor(half / 1000, pxPerMm, LIMIT_ROOM),
    enlargementFactor(offsetUm / 1000, pxPerMm, OFFSET_ROOM),
  );
}

/**
 * The NDS axis against the DS axis, in the section and on the clock, both by one scale: the limit circle fills the picture, so that
 * what conforms lies well inside it, however little or much it is.
 */
export function layoutOffset(input: OffsetInput): OffsetLayout {
  const { drawing, offset, limitUm, meansMm = {}, side = "ds", decimal } = input;
  const pxPerMm = Math.min((WIDTH - 100) / drawing.widthMm, 200 / drawing.shellOutsideDiameterMm);
  const x0 = (WIDTH - drawing.widthMm * pxPerMm) / 2;
  const section = layoutShellSection({
    drawing,
    pxPerMm,
    x0,
    side: "ds",
    sections: [],
    asked: null,
    plain: true,
    decimal,
  });
  const offsetUm = Math.hypot(offset.towards12Um, offset.towards3Um);
  const factor = scaleOf(offsetUm, limitUm, pxPerMm);
  const pxPerUm = (factor * pxPerMm) / 1000;
  const limitRadius = limitUm === null ? null : (limitUm / 2) * pxPerUm;

  const { axisY } = section;
  const room = (drawing.nominalBoreMm / 2) * pxPerMm * 0.92;
  const middleMm = drawing.widthMm - drawing.seatDepthMm / 2;
  const [fromMm, toMm] = [drawing.widthMm - drawing.seatDepthMm - 12, drawing.widthMm + 6];
  const xOf = (xMm: number) => x0 + xMm * pxPerMm;
  const yOf = (xMm: number) => {
    const away = (offset.towards12Um + (offset.slope12UmPerMm ?? 0) * (xMm - middleMm)) * pxPerUm;
    return axisY - Math.min(room, Math.max(-room, away));
  };
  const [axisFrom, axisTo] = [
    { x: xOf(fromMm), y: yOf(fromMm) },
    { x: xOf(toMm), y: yOf(toMm) },
  ];
  const limits =
    limitRadius === null
      ? ""
      : [-limitRadius, limitRadius]
          .map((y) => `M${px(axisFrom.x)} ${px(axisY + y)}H${px(xOf(drawing.widthMm))}`)
          .join("");

  const face: ClockFace = { cx: 97, cy: section.height + NAME_SIZE + 112, side };
  const towardsDeg = (Math.atan2(offset.towards3Um, offset.towards12Um) * 180) / Math.PI;
  const tip = clockPoint(face, offsetUm * pxPerUm, towardsDeg);
  // An offset that is shown as zero points nowhere.
  const isShown = offsetUm >= LEAST_SHOWN_UM;
  const where = `${formatMm(offsetUm / 1000, 0.001, decimal)}${isShown ? ` to ${formatOclock(towardsDeg, side)}` : ""}`;
  const sizeOf = (um: number) => `ø ${formatSizeMm(um / 1000, 0.001, decimal)}`;
  const zone = `zone ${sizeOf(input.zoneUm)}${limitUm === null ? "" : `, limit ${sizeOf(limitUm)}`}`;

  // Names stand below the shell, the datum's and the axis' notes on either side of the datum's line: nothing that moves meets them.
  const isUp = axisFrom.y < axisY;
  const nameY = section.bottom + NAME_SIZE + 6;
  const nameOf = (seat: Seat) => {
    const mean = meansMm[seat];
    return `${seat === "ds" ? "DS" : "NDS"}${mean === undefined ? " seat" : ` ø ${formatSizeMm(mean, 0.001, decimal)}`}`;
  };
  const axisNameY = isUp
    ? Math.max(Math.min(axisFrom.y + 7, axisY - 8), axisY - room + NOTE_SIZE)
    : Math.min(Math.max(axisFrom.y + 7, axisY + 22), axisY + room - 4);
  const legendX = 205;
  const legend: readonly (readonly [OffsetLabelKind, string])[] = [
    ["finding", where],
    ["zone", zone],
    ...(limitUm === null ? [] : [["note", "heavy circle: the limit"] as const]),
    ["note", formatSideOfView(side)],
    ["note", `offset drawn ${formatCount(factor)} times larger`],
  ];
  return {
    width: WIDTH,
    height: Math.round(face.cy + 112),
    section,
    axis: linePath(axisFrom, axisTo),
    limits,
    face,
    clockRadius: CLOCK_RADIUS,
    numeralRadius: CLOCK_RADIUS + 17,
    limitRadius,
    tip,
    factor,
    where,
    zone,
    labels: [
      { kind: "name", text: nameOf("ds"), x: x0, y: nameY, anchor: "start", size: NAME_SIZE },
      { kind: "name", text: nameOf("nds"), x: section.x1, y: nameY, anchor: "end", size: NAME_SIZE },
      {
        kind: "note",
        text: "datum A, DS axis",
        x: x0 + drawing.seatDepthMm * pxPerMm + 12,
        y: isUp ? axisY + 24 : axisY - 10,
        anchor: "start",
        size: NOTE_SIZE,
      },
      { kind: "axis", text: "NDS axis", x: axisFrom.x - 8, y: axisNameY, anchor: "end", size: NOTE_SIZE },
      ...legend.map(
        ([kind, text], index) =>
          ({
            kind,
            text,
            x: legendX,
            y: face.cy - 46 + index * NOTE_STEP,
            anchor: "start",
            size: kind === "finding" ? NAME_SIZE : NOTE_SIZE,
          }) as const,
      ),
    ],
  };
}
