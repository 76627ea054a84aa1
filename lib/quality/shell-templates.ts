import { toDecimals } from "../core/numerics/decimal-digits";
import type { Characteristic, ShellDrawing } from "../core/metrology/shell-drawing";
import { ALUMINIUM, PRESS_FIT_41, PRESS_FIT_42, PRESS_FIT_46 } from "./demonstration-drawings";

export type ShellTemplateKey = "press-fit-41" | "press-fit-42" | "press-fit-46" | "press-fit-37";

/** A shell in use, by dimension: what a new drawing starts from. Its limits are a proposal, no standard. */
export type ShellTemplate = {
  readonly key: ShellTemplateKey;
  /** Shell widths in use, mm. */
  readonly widthsMm: readonly number[];
  readonly axlesMm: readonly number[];
  readonly drawing: ShellDrawing;
};

/** Half the tolerance of the width, mm: a proposal. */
const WIDTH_HALF_MM = 0.2;

function withBore(list: readonly Characteristic[], lower: number, upper: number): Characteristic[] {
  return list.map((one) => (one.name === "bore" ? { ...one, lower, upper } : one));
}

/** The template's drawing with another of its widths; the limits of the width move along. */
export function withWidth(drawing: ShellDrawing, widthMm: number): ShellDrawing {
  const round = (value: number) => toDecimals(value, 4);
  const characteristics = drawing.characteristics.map((one) =>
    one.name === "width"
      ? { ...one, lower: round(widthMm - WIDTH_HALF_MM), upper: round(widthMm + WIDTH_HALF_MM), target: null }
      : one,
  );
  return { ...drawing, widthMm, characteristics };
}

/** Bearing of 37 mm outside diameter straight in the shell; bore P7, 37 -0.017/-0.042 (ISO 286-2, 30 to 50). */
const PRESS_FIT_37: ShellDrawing = {
  ...PRESS_FIT_42,
  key: "press-fit-37",
  title: "Press fit 37, bearing in the shell, aluminium",
  nominalBoreMm: 37,
  faceOutsideDiameterMm: 46,
  faceSweepDiameterMm: 41,
  faceLimitDiameterMm: 41,
  shellOutsideDiameterMm: 46,
  shellMaterial: ALUMINIUM,
  characteristics: withBore(PRESS_FIT_42.characteristics, 36.958, 36.983),
  carries: { bearing: PRESS_FIT_41.carries.bearing, cup: null },
};

/** Shells in use (widths and what they carry: published dimensions; every limit, face and material: a proposal). */
export const SHELL_TEMPLATES: readonly ShellTemplate[] = [
  {
    key: "press-fit-41",
    widthsMm: [86.5, 89.5, 92, 104.5, 107, 121],
    axlesMm: [24, 30],
    drawing: PRESS_FIT_41,
  },
  {
    key: "press-fit-42",
    widthsMm: [68, 73, 83],
    axlesMm: [30],
    drawing: PRESS_FIT_42,
  },
  {
    key: "press-fit-46",
    widthsMm: [61, 68, 73, 79, 83, 86.5],
    axlesMm: [24, 30],
    drawing: PRESS_FIT_46,
  },
  {
    key: "press-fit-37",
    widthsMm: [90, 95],
    axlesMm: [24],
    drawing: withWidth(PRESS_FIT_37, 90),
  },
];

/** A template by its key, or null. */
export function findShellTemplate(key: string): ShellTemplate | null {
  return SHELL_TEMPLATES.find((template) => template.key === key) ?? null;
}
