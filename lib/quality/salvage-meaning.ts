import type { PairCylinder } from "../core/metrology/functional-size";
import { functionalSizeStandardUm } from "../core/metrology/functional-size-uncertainty";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { Seat } from "../core/metrology/reading-name";
import { type CompoundRange, compoundSalvage, facingSalvage, reamSalvage } from "../core/metrology/salvage";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { WIDTH_STANDARD_UM } from "../core/metrology/shell-width";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { carriedLimits, carriedPart } from "./bearing-meaning";
import {
  type CompoundMeaning,
  type FacingMeaning,
  given,
  type MeaningResult,
  notEstimable,
  type ReamMeaning,
} from "./meaning";
import { sectionNoise } from "./pair-meaning";

function limitOf(drawing: ShellDrawing, name: "bore" | "width", end: "lower" | "upper"): number | null {
  return drawing.characteristics.find((characteristic) => characteristic.name === name)?.[end] ?? null;
}

/** Line-ream of both seats to one cylinder, against the upper limit of the size. */
export function reamMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  ream: MeaningResult<PairCylinder>,
): ReamMeaning {
  const upper = limitOf(drawing, "bore", "upper");
  if (upper === null) return { code: "ream", ...notEstimable({ code: "no-upper-size" }) };
  if (!ream.ok) return { code: "ream", ...notEstimable(ream.reason) };
  const { contacts, diameterMm } = ream.value;
  const uncertaintyUm = 2 * functionalSizeStandardUm(contacts, sectionNoise(measurement));
  return { code: "ream", ...given(reamSalvage(diameterMm, upper), { value: uncertaintyUm, unit: "µm" }) };
}

/** Facing both ends, against the minimum width. */
export function facingMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  mostPerSideMm: number,
): FacingMeaning {
  const none = { code: "facing", mostPerSideMm, cut: null } as const;
  const { ds, nds } = measurement.faces;
  const minimumMm = limitOf(drawing, "width", "lower");
  if (minimumMm === null) return { ...none, ...notEstimable({ code: "no-lower-width" }) };
  if (measurement.width === null) return { ...none, ...notEstimable({ code: "no-width" }) };
  if (ds === null || nds === null) return { ...none, ...notEstimable({ code: "no-face" }) };
  const over = drawing.faceOutsideDiameterMm / drawing.faceLimitDiameterMm;
  const cut = { dsUm: ds.runOutUm * over, ndsUm: nds.runOutUm * over, minimumMm };
  const option = facingSalvage({
    smallestWidthMm: measurement.width.smallestMm,
    minimumWidthMm: minimumMm,
    faceRunOutUm: [cut.dsUm, cut.ndsUm],
    mostPerSideMm,
  });
  return { ...none, cut, ...given(option, { value: 2 * WIDTH_STANDARD_UM, unit: "µm" }) };
}

/** Retaining compound in one seat. */
export function compoundMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  range: CompoundRange,
): CompoundMeaning {
  const part = carriedLimits(drawing);
  const asked = { code: "compound", seat, part: carriedPart(drawing), range } as const;
  const bore = measurement.bores[seat];
  if (bore === null) return { ...asked, ...notEstimable({ code: "no-diameters", seat: null }) };
  const option = compoundSalvage([bore.smallestMm, bore.largestMm], [part.leastMm, part.mostMm], range);
  return { ...asked, ...given(option, { value: 2 * sizeStandardUncertaintyUm(1), unit: "µm" }) };
}
