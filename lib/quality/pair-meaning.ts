import { BORE_RANDOM_UM } from "../core/metrology/bore-seat";
import { functionalSizeStandardUm, type SectionNoise } from "../core/metrology/functional-size-uncertainty";
import { functionalSize, type PairCylinder, smallestReam } from "../core/metrology/functional-size";
import { frameSections } from "../core/metrology/frame-sections";
import { gaugeBarPassage, type GaugeBarSet } from "../core/metrology/gauge-bar";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { PlanePoint } from "../core/metrology/plane-point";
import type { Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { SWEEP_NOISE_UM } from "../core/metrology/sweep-harmonics";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { unseenLobesOfPair, unseenLobeStandardUm } from "../core/metrology/unseen-lobes";
import { type BarMeaning, type FunctionalMeaning, given, type MeaningResult, notEstimable, resultOf } from "./meaning";

const RAD_PER_ARCMIN = Math.PI / 10800;

/** Largest bar and smallest ream of both seats on one free axis; sections that a sweep did not place have no answer. */
export function pairCylinders(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
): { readonly bar: MeaningResult<PairCylinder>; readonly ream: MeaningResult<PairCylinder> } {
  const sections = frameSections(drawing, measurement);
  const bare = (["ds", "nds"] as const).find((seat) => !sections.some((section) => section.seat === seat));
  if (bare !== undefined) {
    const none = { ok: false, reason: { code: "no-diameters", seat: bare } } as const;
    return { bar: none, ream: none };
  }
  return { bar: resultOf(functionalSize(sections)), ream: resultOf(smallestReam(sections)) };
}

/** Standard uncertainties of the sections: counts of readings through the shop budget. */
export function sectionNoise(measurement: FrameMeasurement): SectionNoise {
  const bores = (["ds", "nds"] as const).flatMap((seat) => measurement.bores[seat]?.sections ?? []);
  const sizes = Math.max(1, Math.min(...bores.map((section) => section.count)));
  const sweeps = (measurement.swept[0]?.sections ?? []).flatMap(({ fit }) => (fit ? [fit.fit.residuals.length] : []));
  return {
    diameterUm: BORE_RANDOM_UM / Math.sqrt(sizes),
    commonDiameterUm: sizeStandardUncertaintyUm(Infinity),
    centreUm: SWEEP_NOISE_UM * Math.sqrt(2 / Math.max(3, Math.min(...sweeps))),
    ovalUm: (BORE_RANDOM_UM / 2) * Math.sqrt(2 / sizes),
  };
}

/** The largest bar that passes both seats (functional size), with the seat on which it binds first. */
export function functionalMeaning(
  bar: MeaningResult<PairCylinder>,
  { drawing, measurement }: { readonly drawing: ShellDrawing; readonly measurement: FrameMeasurement },
): FunctionalMeaning {
  const unseen = unseenLobesOfPair(measurement);
  const asked = { code: "functional-size", unseen } as const;
  if (!bar.ok) return { ...asked, binds: null, ...notEstimable(bar.reason) };
  const { contacts } = bar.value;
  const shareOf = (seat: Seat) => contacts.filter((c) => c.seat === seat).reduce((sum, c) => sum + c.share, 0);
  const seat: Seat = shareOf("nds") > shareOf("ds") ? "nds" : "ds";
  const clockDeg = contacts.filter((c) => c.seat === seat && c.share > 0).map((c) => c.clockDeg);
  const standardUm = Math.hypot(
    functionalSizeStandardUm(contacts, sectionNoise(measurement)),
    unseenLobeStandardUm(drawing, unseen),
  );
  return { ...asked, binds: { seat, clockDeg }, ...given(bar.value, { value: 2 * standardUm, unit: "µm" }) };
}

/** Slopes of both seats' axes and of the line through their mid-points, all dy/dx and dz/dx; null without a sweep. */
function slopesOf(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
): { readonly seats: Record<Seat, PlanePoint | null>; readonly common: PlanePoint } | null {
  const [swept] = measurement.swept;
  if (swept === undefined || swept.offset12Um === null || swept.offset3Um === null) return null;
  const datum: Seat = swept.swept === "nds" ? "ds" : "nds";
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value / values.length, 0);
  const depth = mean(drawing.fullPlanDepthsMm);
  const datumX = datum === "ds" ? depth : drawing.widthMm - depth;
  const apart = mean(swept.sections.filter(({ fit }) => fit !== null).map(({ xMm }) => xMm)) - datumX;
  const own =
    swept.slope12 === null || swept.slope3 === null ? null : { y: swept.slope12 / 1000, z: swept.slope3 / 1000 };
  const onAxis: PlanePoint = { y: 0, z: 0 };
  return {
    seats: swept.swept === "nds" ? { ds: onAxis, nds: own } : { ds: own, nds: onAxis },
    common: { y: swept.offset12Um / 1000 / apart, z: swept.offset3Um / 1000 / apart },
  };
}

/** What the gauge bar feels through gauges seated in both seats. */
export function barMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  set: GaugeBarSet,
  tiltUncertaintyArcmin: number,
): BarMeaning {
  const asked = { code: "gauge-bar", set } as const;
  const slopes = slopesOf(drawing, measurement);
  if (slopes === null) return { ...asked, ...notEstimable({ code: "no-sweep" }) };
  const passage = gaugeBarPassage(set, slopes.seats, slopes.common);
  if (!passage.ok) return { ...asked, ...notEstimable({ code: "not-given", why: passage.reason }) };
  const clearanceU = set.gaugeLengthMm * tiltUncertaintyArcmin * RAD_PER_ARCMIN * 1000;
  return { ...asked, ...given(passage.value, { value: clearanceU, unit: "µm" }) };
}
