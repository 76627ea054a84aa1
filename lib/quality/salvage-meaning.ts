import { formatFixed } from "../format/number-text";
import type { Estimate } from "../core/errors";
import type { PairCylinder } from "../core/metrology/functional-size";
import { functionalSizeStandardUm } from "../core/metrology/functional-size-uncertainty";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { Seat } from "../core/metrology/reading-name";
import {
  type CompoundRange,
  type CompoundSalvage,
  compoundSalvage,
  facingSalvage,
  reamSalvage,
  type SalvageOption,
} from "../core/metrology/salvage";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { WIDTH_STANDARD_UM } from "../core/metrology/shell-width";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { carriedLimits, carriedName } from "./bearing-meaning";
import { diameterText, type Meaning, meaningOf, notEstimable, rangeUm, wholeUm } from "./meaning";
import { sectionNoise } from "./pair-meaning";

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;
const POSSIBLE = { true: "possible", false: "not possible" } as const;

function limitOf(drawing: ShellDrawing, name: "bore" | "width", end: "lower" | "upper"): number | null {
  return drawing.characteristics.find((characteristic) => characteristic.name === name)?.[end] ?? null;
}

function possibleText(possible: boolean): string {
  return POSSIBLE[`${possible}`];
}

/** Line-ream of both seats to one cylinder, against the upper limit of the size. */
export function reamMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  ream: Estimate<PairCylinder>,
): Meaning<SalvageOption> {
  const wording = {
    title: "Line-ream",
    explanation: "Smallest cylinder on one free axis that takes in both seats, against the upper limit of the size.",
    assumptions: ["the reamer cuts to that size on that axis", "the frame's maker allows reaming"],
  };
  const upper = limitOf(drawing, "bore", "upper");
  if (upper === null) return notEstimable(wording, "the drawing has no upper limit of the size");
  if (!ream.ok) return notEstimable(wording, ream.reason);
  const option = reamSalvage(ream.value.diameterMm, upper);
  const margin = option.estimable ? option.marginUm : 0;
  const size = diameterText(ream.value.diameterMm);
  return meaningOf(wording, option, {
    figure: possibleText(margin >= 0),
    sentence:
      margin >= 0
        ? `One axis, ${size}: stays ${wholeUm(margin)} µm under the limit.`
        : `One axis, ${size}: ${wholeUm(-margin)} µm over the limit.`,
    uncertainty: { value: 2 * functionalSizeStandardUm(ream.value.contacts, sectionNoise(measurement)), unit: "µm" },
  });
}

/** Facing both ends, against the minimum width. */
export function facingMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  mostPerSideMm: number,
): Meaning<SalvageOption> {
  const wording = {
    title: "Facing",
    explanation: "Smallest width less the run-out of each face over its whole diameter, against the minimum width.",
    assumptions: [`at most ${mostPerSideMm} mm off a side`, "both faces cut square to their seats"],
  };
  const { ds, nds } = measurement.faces;
  const minimum = limitOf(drawing, "width", "lower");
  if (minimum === null) return notEstimable(wording, "the drawing has no lower limit of the width");
  if (measurement.width === null) return notEstimable(wording, "the width was not measured");
  if (ds === null || nds === null) return notEstimable(wording, "a face was not swept");
  const over = drawing.faceOutsideDiameterMm / drawing.faceLimitDiameterMm;
  const option = facingSalvage({
    smallestWidthMm: measurement.width.smallestMm,
    minimumWidthMm: minimum,
    faceRunOutUm: [ds.runOutUm * over, nds.runOutUm * over],
    mostPerSideMm,
  });
  const left = option.estimable ? option.value : 0;
  return meaningOf(wording, option, {
    figure: possibleText(option.estimable && option.possible),
    sentence: `Square faces take ${wholeUm(ds.runOutUm * over)} µm DS and ${wholeUm(nds.runOutUm * over)} µm NDS and leave ${formatFixed(left, 2)} mm; the minimum is ${formatFixed(minimum, 2)} mm.`,
    uncertainty: { value: 2 * WIDTH_STANDARD_UM, unit: "µm" },
  });
}

/** Retaining compound in one seat. */
export function compoundMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  range: CompoundRange,
): Meaning<CompoundSalvage> {
  const part = carriedLimits(drawing);
  const wording = {
    title: `Retaining compound, ${NAME[seat]}`,
    explanation: `Gap between the measured seat and the ${carriedName(drawing)}, against what a compound fills.`,
    assumptions: [`compound for ${rangeUm(range.leastMm * 1000, range.mostMm * 1000)} of diametral gap`],
  };
  const bore = measurement.bores[seat];
  if (bore === null) return notEstimable(wording, "the seat's diameters were not measured");
  const option = compoundSalvage([bore.smallestMm, bore.largestMm], [part.leastMm, part.mostMm], range);
  const [least, most] = option.gapMm ?? [0, 0];
  const gap = rangeUm(least * 1000, most * 1000);
  const said = {
    fits: `Gap ${gap}: a compound holds it.`,
    "fits-below-best": `Gap ${gap}: a compound holds it, below its best range.`,
    "no-gap": most <= 0 ? "No gap: the press fit holds without a compound." : `Gap ${gap}: too tight for a compound.`,
    "needs-sleeve": `Gap ${gap}: more than a compound fills; it needs a sleeve.`,
  } as const;
  return meaningOf(wording, option, {
    figure: possibleText(option.estimable && option.possible),
    sentence: said[option.finding ?? "no-gap"],
    uncertainty: { value: 2 * sizeStandardUncertaintyUm(1), unit: "µm" },
  });
}
