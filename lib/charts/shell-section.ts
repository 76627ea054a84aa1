import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import { formatSizeMm, type DecimalSign } from "@/lib/format/number-text";
import { formatDepth } from "@/lib/format/reading-text";
import { px } from "./clock-face";
import { boxesOverlap, labelBox } from "./label-box";
import {
  layoutAsked,
  planeX,
  type AskedParts,
  type SectionDot,
  type SectionLabel,
  type SectionPath,
  type ShellDimensions,
} from "./shell-asked";

/** One measured section of a seat: how far it is, and its mean when it is known. */
export type SectionState = {
  readonly seat: Seat;
  readonly depthMm: number;
  readonly taken: number;
  readonly planned: number;
  readonly meanMm: number | null;
};

export type ShellSection = {
  /** Left and right face, top and bottom of the shell, and its axis, pixels. */
  readonly x0: number;
  readonly x1: number;
  readonly top: number;
  readonly bottom: number;
  readonly axisY: number;
  readonly height: number;
  readonly paths: readonly SectionPath[];
  readonly arrowheads: readonly { readonly d: string; readonly asked: boolean }[];
  readonly labels: readonly SectionLabel[];
  readonly dots: readonly SectionDot[];
  readonly arrow: AskedParts["arrow"];
  /** Where the remark of each seat stands. */
  readonly remarks: Readonly<
    Record<Seat, { readonly x: number; readonly y: number; readonly anchor: "start" | "end" }>
  >;
};

export type ShellSectionInput = {
  readonly drawing: ShellDimensions;
  readonly pxPerMm: number;
  readonly x0: number;
  readonly side: Seat;
  readonly sections: readonly SectionState[];
  readonly asked: ReadingName | null;
  /** Leaves the depth dimensions and the width away, for the small drawing beside a verdict. */
  readonly plain?: boolean;
  readonly decimal?: DecimalSign;
};

const ROW = 26;
const FIRST_SHELF_Y = 60;
const LIVE_SIZE = 20;
const DEPTH_SIZE = 18;
/** The relief between the seats is on no drawing: it is drawn as this share of the wall. */
const RELIEF_SHARE = 0.28;

/** Depths measured in a seat, shallow first. */
function depthsOf(sections: readonly SectionState[], seat: Seat): readonly number[] {
  return [...new Set(sections.filter((section) => section.seat === seat).map((section) => section.depthMm))].sort(
    (a, b) => a - b,
  );
}

function shelfText(section: SectionState, decimal: DecimalSign): string {
  const depth = formatDepth(section.depthMm, decimal);
  if (section.meanMm !== null) return `${depth}  ø ${formatSizeMm(section.meanMm, 0.001, decimal)}`;
  return section.planned === 0 ? depth : `${depth}  ${section.taken} of ${section.planned}`;
}

type Frame = {
  readonly input: ShellSectionInput;
  readonly rows: number;
  readonly stackedLabels: boolean;
  readonly stackedDepths: boolean;
  readonly top: number;
  readonly x1: number;
};

const spanOf = ({ input, x1 }: Pick<Frame, "input" | "x1">) => ({ x0: input.x0, x1, pxPerMm: input.pxPerMm });

function isAsked(asked: ReadingName | null, section: SectionState): boolean {
  return (
    (asked?.kind === "bore" || asked?.kind === "sweep") &&
    asked.seat === section.seat &&
    asked.depthMm === section.depthMm
  );
}

function shelfLabel(frame: Frame, section: SectionState, row: number): SectionLabel {
  const { input } = frame;
  const deepest = Math.max(...depthsOf(input.sections, section.seat));
  const edge = planeX(spanOf(frame), section.seat, deepest);
  const kind = isAsked(input.asked, section)
    ? "asked"
    : section.meanMm === null && section.taken === 0
      ? "waiting"
      : "live";
  return {
    kind,
    text: shelfText(section, input.decimal ?? "."),
    x: section.seat === "ds" ? edge + 18 : edge - 18,
    y: FIRST_SHELF_Y + row * ROW + 7,
    anchor: section.seat === "ds" ? "start" : "end",
    size: LIVE_SIZE,
  };
}

function rowOf(frame: Pick<Frame, "input">, section: SectionState, stacked: boolean): number {
  const row = depthsOf(frame.input.sections, section.seat).indexOf(section.depthMm);
  return row + (stacked && section.seat === "nds" ? depthsOf(frame.input.sections, "ds").length : 0);
}

function depthLabel(frame: Frame, section: SectionState, bottom: number): SectionLabel {
  const x = planeX(spanOf(frame), section.seat, section.depthMm);
  return {
    kind: isAsked(frame.input.asked, section) ? "asked" : "dimension",
    text: `${formatDepth(section.depthMm, frame.input.decimal)} deep`,
    x: section.seat === "ds" ? x + 21 : x - 21,
    y: bottom + ROW * (rowOf(frame, section, frame.stackedDepths) + 1) + 6,
    anchor: section.seat === "ds" ? "start" : "end",
    size: DEPTH_SIZE,
  };
}

function anyOverlap(labels: readonly SectionLabel[]): boolean {
  const boxes = labels.map((label) => {
    const box = labelBox(label);
    return { ...box, left: box.left - 3, right: box.right + 3 };
  });
  return boxes.some((box, index) => boxes.slice(index + 1).some((other) => boxesOverlap(box, other)));
}

/**
 * Chooses rows so that the labels of both seats fit beside each other, or else under each other. Reckoned with every mean
 * known, so that the drawing does not move while it is measured.
 */
function frameOf(input: ShellSectionInput): Frame {
  const x1 = input.x0 + input.drawing.widthMm * input.pxPerMm;
  const rows = Math.max(depthsOf(input.sections, "ds").length, depthsOf(input.sections, "nds").length);
  const flat: Frame = { input, rows, stackedLabels: false, stackedDepths: false, top: 0, x1 };
  const both = depthsOf(input.sections, "ds").length + depthsOf(input.sections, "nds").length;
  const measured = input.sections.map((section) => ({ ...section, meanMm: input.drawing.nominalBoreMm }));
  const stackedLabels = anyOverlap(measured.map((section) => shelfLabel(flat, section, rowOf(flat, section, false))));
  const stackedDepths = anyOverlap(input.sections.map((section) => depthLabel(flat, section, 0)));
  const shelves = stackedLabels ? both : rows;
  const top = input.plain ? 14 : FIRST_SHELF_Y + ROW * shelves - 8;
  return { input, rows: stackedDepths ? both : rows, stackedLabels, stackedDepths, top, x1 };
}

/** Outline of the upper (sign -1) or lower (sign 1) wall: face, chamfer to the outside, seats, relief. */
function wallPath(frame: Frame, axisY: number, sign: 1 | -1): string {
  const { drawing, pxPerMm, x0 } = frame.input;
  const outer = (drawing.shellOutsideDiameterMm / 2) * pxPerMm;
  const face = (Math.max(drawing.faceOutsideDiameterMm, drawing.nominalBoreMm) / 2) * pxPerMm;
  const step = Math.min(Math.abs(outer - face), drawing.seatDepthMm * pxPerMm * 0.3);
  const bore = (drawing.nominalBoreMm / 2) * pxPerMm;
  const relief = bore + (outer - bore) * RELIEF_SHARE;
  const inner0 = x0 + drawing.seatDepthMm * pxPerMm;
  const inner1 = frame.x1 - drawing.seatDepthMm * pxPerMm;
  const points: readonly (readonly [number, number])[] = [
    [x0, face],
    [x0 + step, outer],
    [frame.x1 - step, outer],
    [frame.x1, face],
    [frame.x1, bore],
    [inner1, bore],
    [inner1, relief],
    [inner0, relief],
    [inner0, bore],
    [x0, bore],
  ];
  return `M${points.map(([x, r]) => `${px(x)} ${px(axisY + sign * r)}`).join("L")}Z`;
}

const arrowhead = (x: number, y: number, towards: 1 | -1): string => `M${px(x)} ${px(y)}l${-9 * towards} -2.6v5.2z`;

function dimensionParts(
  frame: Frame,
  axisY: number,
  bottom: number,
): Pick<ShellSection, "paths" | "labels" | "arrowheads"> {
  const { input, x1 } = frame;
  const { drawing, x0, pxPerMm, asked } = input;
  const bore = (drawing.nominalBoreMm / 2) * pxPerMm;
  const paths: SectionPath[] = [];
  const labels: SectionLabel[] = [];
  const arrowheads: { d: string; asked: boolean }[] = [];
  for (const section of input.sections) {
    const ds = section.seat === "ds";
    const x = planeX(spanOf(frame), section.seat, section.depthMm);
    const wanted = isAsked(asked, section);
    const shelf = shelfLabel(frame, section, rowOf(frame, section, frame.stackedLabels));
    const shelfY = shelf.y - 7;
    const kind = wanted ? "asked thin" : section.taken === 0 ? "to come" : "thin";
    paths.push({
      kind,
      d: `M${px(x)} ${px(axisY + (wanted ? -bore : bore))}V${px(shelfY)}H${px(shelf.x + (ds ? -6 : 6))}`,
    });
    labels.push(shelf);
    const depth = depthLabel(frame, section, bottom);
    const y = depth.y - 6;
    paths.push({ kind: wanted ? "asked thin" : "thin", d: `M${px(x)} ${px(axisY + bore)}V${px(y + 5)}` });
    paths.push({
      kind: wanted ? "asked thin" : "thin",
      d: ds ? `M${px(x0 - 16)} ${px(y)}H${px(x + 16)}` : `M${px(x - 16)} ${px(y)}H${px(x1 + 16)}`,
    });
    const [left, right] = ds ? [x0, x] : [x, x1];
    arrowheads.push({ d: arrowhead(left, y, 1), asked: wanted }, { d: arrowhead(right, y, -1), asked: wanted });
    labels.push(depth);
  }
  const lowest = bottom + ROW * frame.rows + 8;
  const wide = asked?.kind === "width";
  paths.push({
    kind: "thin",
    d: `M${px(x0)} ${px(bottom + 4)}V${px(lowest)}M${px(x1)} ${px(bottom + 4)}V${px(lowest)}`,
  });
  paths.push({ kind: "thin", d: `M${px(x0)} ${px(frame.top - 4)}V20M${px(x1)} ${px(frame.top - 4)}V20` });
  const middle = (x0 + x1) / 2;
  const text = `${formatSizeMm(drawing.widthMm, 0.1, input.decimal)} nominal width`;
  const label: SectionLabel = {
    kind: wide ? "asked" : "dimension",
    text,
    x: middle,
    y: 32,
    anchor: "middle",
    size: DEPTH_SIZE,
  };
  const box = labelBox(label);
  paths.push({
    kind: wide ? "asked dimension" : "dimension",
    d: `M${px(x0)} 26H${px(box.left + 2)}M${px(box.right - 2)} 26H${px(x1)}`,
  });
  arrowheads.push({ d: arrowhead(x0, 26, -1), asked: wide }, { d: arrowhead(x1, 26, 1), asked: wide });
  labels.push(label);
  return { paths, labels, arrowheads };
}

/** The shell cut along 12-6, seen from the front of the frame: drive side left, all from the drawing's dimensions by one scale. */
export function layoutShellSection(input: ShellSectionInput): ShellSection {
  const frame = frameOf(input);
  const { drawing, pxPerMm, x0, asked } = input;
  const outer = (Math.max(drawing.shellOutsideDiameterMm, drawing.faceOutsideDiameterMm) / 2) * pxPerMm;
  const bore = (drawing.nominalBoreMm / 2) * pxPerMm;
  const axisY = frame.top + outer;
  const bottom = axisY + outer;
  const inner0 = planeX(spanOf(frame), "ds", drawing.seatDepthMm);
  const inner1 = planeX(spanOf(frame), "nds", drawing.seatDepthMm);
  const edges = [x0, inner0, inner1, frame.x1].map((x) => `M${px(x)} ${px(axisY - bore)}V${px(axisY + bore)}`).join("");
  const dimensions = input.plain ? { paths: [], labels: [], arrowheads: [] } : dimensionParts(frame, axisY, bottom);
  const place = { drawing, pxPerMm, x0, x1: frame.x1, axisY, side: input.side };
  const asks = asked ? layoutAsked(place, asked) : { paths: [], dots: [], labels: [], arrow: null };
  const askedSeat = asked && "seat" in asked ? asked.seat : null;
  const nameOf = (seat: Seat): SectionLabel => ({
    kind: seat === askedSeat ? "asked name" : "name",
    text: seat === "ds" ? "DS seat" : "NDS seat",
    x: seat === "ds" ? inner0 + 16 : inner1 - 16,
    y: axisY - Math.min(42, bore * 0.45),
    anchor: seat === "ds" ? "start" : "end",
    size: 25,
  });
  const remarkY = axisY - Math.min(14, bore * 0.15);
  return {
    x0,
    x1: frame.x1,
    top: frame.top,
    bottom,
    axisY,
    height: input.plain ? bottom + 14 : bottom + ROW * frame.rows + ROW,
    paths: [
      { kind: "wall", d: wallPath(frame, axisY, -1) },
      { kind: "wall", d: wallPath(frame, axisY, 1) },
      { kind: "edge", d: edges },
      { kind: "axis", d: `M${px(x0 - 22)} ${px(axisY)}H${px(frame.x1 + 24)}` },
      ...dimensions.paths,
      ...asks.paths,
    ],
    arrowheads: dimensions.arrowheads,
    labels: [...dimensions.labels, nameOf("ds"), nameOf("nds"), ...asks.labels],
    dots: asks.dots,
    arrow: asks.arrow,
    remarks: {
      ds: { x: inner0 + 16, y: remarkY, anchor: "start" },
      nds: { x: inner1 - 16, y: inner1 - inner0 < 330 ? axisY + 54 : remarkY, anchor: "end" },
    },
  };
}
