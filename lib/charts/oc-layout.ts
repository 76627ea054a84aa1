import { percentText } from "../format/sampling-words";
import { niceTicks } from "./axis-ticks";
import { boxesOverlap, type Label, labelBox, labelWidth } from "./label-box";

/** A quality of a lot, and with which probability it is accepted. */
export type OcPoint = { readonly p: number; readonly pa: number };
/** A point of the curve with its words. */
export type OcMark = OcPoint & { readonly text: string; readonly isOwn: boolean };

export type OcLayout = {
  readonly width: number;
  readonly height: number;
  readonly frame: { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number };
  readonly line: readonly { readonly x: number; readonly y: number }[];
  readonly ticksX: readonly { readonly x: number; readonly text: string }[];
  readonly ticksY: readonly { readonly y: number; readonly text: string }[];
  readonly marks: readonly (OcMark & { readonly x: number; readonly y: number; readonly label: Label })[];
};

const WIDTH = 400;
const HEIGHT = 260;
const FRAME = { left: 58, right: WIDTH - 12, top: 12, bottom: HEIGHT - 46 };
const LETTERING = 15;
const GAP = 10;

/**
 * An operating characteristic as a picture: how often a lot is accepted over its fraction nonconforming.
 *
 * @param curve - by rising p, at least two
 * @param marks - points of it that are named; a label stands right of its point, or left, where it meets no other one
 */
export function ocLayout(curve: readonly OcPoint[], marks: readonly OcMark[]): OcLayout {
  const most = Math.max(...curve.map(({ p }) => p), ...marks.map(({ p }) => p), 1e-9);
  const x = (p: number) => FRAME.left + (p / most) * (FRAME.right - FRAME.left);
  const y = (pa: number) => FRAME.bottom - pa * (FRAME.bottom - FRAME.top);
  const placed: Label[] = [];
  return {
    width: WIDTH,
    height: HEIGHT,
    frame: FRAME,
    line: curve.map(({ p, pa }) => ({ x: x(p), y: y(pa) })),
    ticksX: niceTicks(0, most, 4).map((p) => ({ x: x(p), text: percentText(p) })),
    ticksY: [0, 0.25, 0.5, 0.75, 1].map((pa) => ({ y: y(pa), text: percentText(pa) })),
    marks: marks.map((mark) => {
      const point = { x: x(mark.p), y: y(mark.pa) };
      const label = freeLabel(mark.text, point, placed);
      placed.push(label);
      return { ...mark, ...point, label };
    }),
  };
}

/** The first place round a point where its words meet no others and stay in the picture; right of it where there is none. */
function freeLabel(
  text: string,
  { x, y }: { readonly x: number; readonly y: number },
  placed: readonly Label[],
): Label {
  const size = LETTERING;
  const width = labelWidth(text, size);
  const places = [0, -22, 22, -44, 44].flatMap((shift): Label[] => [
    { text, size, x: x + GAP, y: y + 5 + shift, anchor: "start" },
    { text, size, x: x - GAP, y: y + 5 + shift, anchor: "end" },
  ]);
  const fits = ({ anchor, x: at, y: baseline }: Label) =>
    (anchor === "start" ? at + width <= WIDTH : at - width >= FRAME.left) &&
    baseline - size >= 0 &&
    baseline <= FRAME.bottom - 2;
  const free = places.find((one) => fits(one) && !placed.some((other) => boxesOverlap(labelBox(one), labelBox(other))));
  return free ?? { text, size, x: Math.max(FRAME.left, Math.min(x + GAP, WIDTH - width)), y: y + 5, anchor: "start" };
}
