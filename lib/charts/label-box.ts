/** A label in a drawing: where its text starts or ends, and how high its letters are. Pixels of the drawing. */
export type Label = {
  readonly text: string;
  readonly x: number;
  readonly y: number;
  readonly anchor: "start" | "middle" | "end";
  readonly size: number;
};

export type Box = { readonly left: number; readonly top: number; readonly right: number; readonly bottom: number };

/** Advances of the narrow face in em at weight 700 (measured in the browser), rounded up: a box errs on the wide side. */
const ADVANCES_EM: readonly (readonly [RegExp, number])[] = [
  [/[0-9ø±+\u2212–]/, 0.53],
  [/[mwMW%]/, 0.79],
  [/[\s.,:;’']/, 0.27],
  [/[iljtfrI()/]/, 0.34],
  [/[A-ZÄÖÜ]/, 0.6],
];
const OTHER_ADVANCE_EM = 0.5;
const ASCENT_EM = 0.74;
const DESCENT_EM = 0.2;

/** Width that a text takes at most in the narrow face, pixels. */
export function labelWidth(text: string, size: number): number {
  let width = 0;
  for (const letter of text) {
    width += ADVANCES_EM.find(([letters]) => letters.test(letter))?.[1] ?? OTHER_ADVANCE_EM;
  }
  return width * size;
}

/** The rectangle that a label fills. */
export function labelBox({ text, x, y, anchor, size }: Label): Box {
  const width = labelWidth(text, size);
  const left = anchor === "start" ? x : anchor === "end" ? x - width : x - width / 2;
  return { left, right: left + width, top: y - ASCENT_EM * size, bottom: y + DESCENT_EM * size };
}

export function boxesOverlap(a: Box, b: Box): boolean {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
