import { formatFixed } from "../format/number-text";
import type { Estimate } from "../core/errors";
import { BORE_RANDOM_UM } from "../core/metrology/bore-seat";
import { functionalSizeStandardUm, type SectionNoise } from "../core/metrology/functional-size-uncertainty";
import { functionalSize, type PairCylinder, smallestReam } from "../core/metrology/functional-size";
import { frameSections } from "../core/metrology/frame-sections";
import { type GaugeBarPassage, gaugeBarPassage, type GaugeBarSet } from "../core/metrology/gauge-bar";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { PlanePoint } from "../core/metrology/plane-point";
import { formatClock, type Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { SWEEP_NOISE_UM } from "../core/metrology/sweep-harmonics";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { type UnseenLobe, unseenLobesOfPair, unseenLobeStandardUm } from "../core/metrology/unseen-lobes";
import { diameterText, type Meaning, meaningOf, notEstimable, wholeUm } from "./meaning";

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;
const RAD_PER_ARCMIN = Math.PI / 10800;

/** A clock position as read from a side: mirrored from the non-drive side. */
function clockFrom(angleDeg: number, side: Seat): string {
  return formatClock(side === "ds" ? angleDeg : -angleDeg);
}

/** "at 1:30 and 7:30", each position once. */
function clocksText(anglesDeg: readonly number[], side: Seat): string {
  return `at ${[...new Set(anglesDeg.map((angle) => clockFrom(angle, side)))].join(" and ")}`;
}

/** Largest bar and smallest ream of both seats on one free axis; sections that a sweep did not place have no answer. */
export function pairCylinders(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
): { readonly bar: Estimate<PairCylinder>; readonly ream: Estimate<PairCylinder> } {
  const sections = frameSections(drawing, measurement);
  const bare = (["ds", "nds"] as const).find((seat) => !sections.some((section) => section.seat === seat));
  if (bare !== undefined) {
    const none = { ok: false, reason: `the diameters of the ${NAME[bare]} seat were not measured` } as const;
    return { bar: none, ream: none };
  }
  return { bar: functionalSize(sections), ream: smallestReam(sections) };
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

/** What of the wall no reading saw, in words: a smaller bar may be the largest. */
function unseenText(unseen: readonly UnseenLobe[]): string {
  const lobes = unseen.map(({ seat, order }) => {
    const where = `of the ${NAME[seat]} seat`;
    if (order === 2) return `oval and lobes ${where}`;
    return order === 3
      ? `odd lobes ${where} (a two-point gauge is blind to them)`
      : `lobes ${where} from the ${order}th on`;
  });
  return [...lobes, "a bell mouth outside the measured sections"].join(", ");
}

/** The largest bar that passes both seats (functional size), with the seat on which it binds first. */
export function functionalMeaning(
  bar: Estimate<PairCylinder>,
  {
    drawing,
    measurement,
    side,
  }: { readonly drawing: ShellDrawing; readonly measurement: FrameMeasurement; readonly side: Seat },
): Meaning<PairCylinder> {
  const unseen = unseenLobesOfPair(measurement);
  const wording = {
    title: "Largest bar that passes",
    explanation: "Largest cylinder inside the measured sections of both seats on one free axis.",
    assumptions: [
      "sections as measured: mean size, oval from the diameters, every further lobe that the sweep's angles see",
      "seats not extended beyond the measured sections",
      `unseen lobes as large as the drawing's ovality lets them be: ${unseen.length === 0 ? "none" : "part of the uncertainty"}`,
    ],
  };
  if (!bar.ok) return notEstimable(wording, bar.reason);
  const { contacts, diameterMm } = bar.value;
  const shareOf = (seat: Seat) => contacts.filter((c) => c.seat === seat).reduce((sum, c) => sum + c.share, 0);
  const first: Seat = shareOf("nds") > shareOf("ds") ? "nds" : "ds";
  const there = contacts.filter((c) => c.seat === first && c.share > 0).map((c) => c.clockDeg);
  return meaningOf(wording, bar.value, {
    figure: diameterText(diameterMm),
    sentence: `Binds first on the ${NAME[first]} seat, ${clocksText(there, side)}. Not seen: ${unseenText(unseen)}.`,
    uncertainty: {
      value:
        2 *
        Math.hypot(
          functionalSizeStandardUm(contacts, sectionNoise(measurement)),
          unseenLobeStandardUm(drawing, unseen),
        ),
      unit: "µm",
    },
  });
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
  given: { readonly side: Seat; readonly tiltUncertaintyArcmin: number },
): Meaning<GaugeBarPassage> {
  const wording = {
    title: "Gauge bar",
    explanation: "Gauge bore less bar less gauge length times the tilt of the seat; the worse seat decides.",
    assumptions: [
      `bar ø ${formatFixed(set.barMm, 3)}, gauge bore ø ${formatFixed(set.gaugeBoreMm, 3)}, gauge ${set.gaugeLengthMm} mm long`,
      "gauges sit without play (common practice, no source)",
    ],
  };
  const slopes = slopesOf(drawing, measurement);
  if (slopes === null) return notEstimable(wording, "no sweep placed one seat to the other");
  const passage = gaugeBarPassage(set, slopes.seats, slopes.common);
  if (!passage.ok) return notEstimable(wording, passage.reason);
  const { result, clearanceUm, worse, seats } = passage.value;
  const { innerContactDeg, outerContactDeg } = seats[worse];
  const touching =
    result === "free" || innerContactDeg === null || outerContactDeg === null
      ? ""
      : `, touching at the inner edge at ${clockFrom(innerContactDeg, given.side)} and the outer edge at ${clockFrom(outerContactDeg, given.side)}`;
  return meaningOf(wording, passage.value, {
    figure: result,
    sentence: `${NAME[worse]} decides with ${wholeUm(clearanceUm)} µm of clearance${touching}.`,
    uncertainty: { value: set.gaugeLengthMm * given.tiltUncertaintyArcmin * RAD_PER_ARCMIN * 1000, unit: "µm" },
  });
}
