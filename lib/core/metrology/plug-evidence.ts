import { CoreError } from "../errors";
import { type GaugeBarResult, type GaugeBarSet, tiltBoundsOfPassage } from "./gauge-bar";
import type { PlugFeel } from "./reading-name";

/** What the feel of a plain plug says about a seat. Common practice, no source: settings. */
export type PlugFeelSettings = {
  /** A plug that enters by hand pressure can be larger than the seat's free passage by so much, µm. */
  readonly handTightUm: number;
  /** A plug that still needs hand pressure is smaller than the seat by at most so much, µm: more, and it slides. */
  readonly handLooseUm: number;
  /** Uncertainty U of the plug's own size, µm. */
  readonly plugUncertaintyUm: number;
};

/** Common practice, no source: seats of 40.95-41.00 feel a 40.95 plug as hand pressure and a 40.85 plug as sliding. */
export const USUAL_PLUG_FEEL: PlugFeelSettings = { handTightUm: 2, handLooseUm: 60, plugUncertaintyUm: 2 };

/** `across`: a rod with rounded ends, tried across the seat in every direction and at both its ends. */
export type PlugTrial = { readonly sizeMm: number; readonly feel: PlugFeel; readonly across?: true };

/** Bounds on one size of a seat, mm; null where nothing bounds it. */
export type SizeBounds = {
  readonly leastMm: number | null;
  readonly mostMm: number | null;
  /** The plugs that give the bounds. */
  readonly leastBy: PlugTrial | null;
  readonly mostBy: PlugTrial | null;
};

/** Bounds on the free passage (largest plug that enters) of one seat, and, by rods across it, on its largest two-point size. */
export type PlugBounds = SizeBounds & { readonly across: SizeBounds };

export type PlugFinding =
  /** Plugs of one seat that cannot all be right. */
  | { readonly code: "plugs-contradict"; readonly leastMm: number; readonly mostMm: number }
  /** Plugs against bore readings beyond both uncertainties: one of the gauges is wrong; nothing is averaged. */
  | {
      readonly code: "gauge-problem";
      readonly side: "bore-too-small" | "bore-too-large";
      readonly plug: PlugTrial;
      readonly boreMm: number;
      readonly beyondUm: number;
      /** Bore sizes over the plug's bound can also be odd lobes, which a two-point gauge does not see. */
      readonly oddLobesPossible: boolean;
    }
  | { readonly code: "seat-small"; readonly mostMm: number; readonly limitMm: number; readonly marginal: boolean }
  | { readonly code: "seat-large"; readonly leastMm: number; readonly limitMm: number };

export type PlugEvidence = { readonly bounds: PlugBounds; readonly findings: readonly PlugFinding[] };

/**
 * Plain plug gauges as evidence on one seat: bounds on its free passage, and where they contradict each other, the bore
 * readings or the limits. A plug along the seat bounds its passage, which no two-point size is below; a rod across it bounds the
 * largest two-point size, which the passage is not above (the idea of full-form GO and two-point NO-GO gauging).
 * Rules: slides -> passage >= plug; hand -> plug - handTight <= passage <= plug + handLoose; no -> passage <= plug;
 * a rod across likewise for the largest size
 *
 * @param trials - plugs tried in the seat, mm
 * @param bore - smallest and, where rods were tried, largest two-point size, and their U, mm; null where the bore was not measured
 * @param limits - limits of the seat's size, mm, or null
 * @returns bounds and findings; empty bounds without a trial
 * @throws CoreError not-finite, out-of-range
 * Source: common practice, no source
 */
export function plugEvidence(
  trials: readonly PlugTrial[],
  bore: MeasuredBore | null,
  limits: { readonly lowerMm: number; readonly upperMm: number } | null = null,
  settings: PlugFeelSettings = USUAL_PLUG_FEEL,
): PlugEvidence {
  assertTrials(trials, bore);
  const bounds: PlugBounds = {
    ...boundsOf(
      trials.filter(({ across }) => across !== true),
      settings,
    ),
    across: boundsOf(
      trials.filter(({ across }) => across === true),
      settings,
    ),
  };
  const findings: PlugFinding[] = [];
  const { leastMm, mostMm, across } = bounds;
  const plugU = settings.plugUncertaintyUm / 1000;
  // What enters along the seat is no larger than its largest size.
  const contradicting = (
    [
      [leastMm, mostMm],
      [across.leastMm, across.mostMm],
      [leastMm, across.mostMm],
    ] as const
  ).find(([least, most]) => least !== null && most !== null && least - plugU > most + plugU);
  if (contradicting) findings.push({ code: "plugs-contradict", leastMm: contradicting[0]!, mostMm: contradicting[1]! });
  if (bore !== null) findings.push(...againstBore(bounds, bore, plugU));
  if (limits !== null && mostMm !== null && mostMm <= limits.lowerMm)
    findings.push({
      code: "seat-small",
      mostMm,
      limitMm: limits.lowerMm,
      marginal: leastMm !== null && bounds.leastBy!.feel === "slides",
    });
  const largestLeast = Math.max(leastMm ?? -Infinity, across.leastMm ?? -Infinity);
  if (limits !== null && largestLeast > limits.upperMm)
    findings.push({ code: "seat-large", leastMm: largestLeast, limitMm: limits.upperMm });
  return { bounds, findings };
}

/** What two-point readings say of a seat, mm. */
export type MeasuredBore = {
  readonly smallestMm: number;
  readonly largestMm?: number;
  readonly uncertaintyMm: number;
};

function boundsOf(trials: readonly PlugTrial[], settings: PlugFeelSettings): SizeBounds {
  let least: { at: number; by: PlugTrial } | null = null;
  let most: { at: number; by: PlugTrial } | null = null;
  for (const by of trials) {
    const low = by.feel === "no" ? null : by.sizeMm - (by.feel === "hand" ? settings.handTightUm / 1000 : 0);
    const high = by.feel === "slides" ? null : by.sizeMm + (by.feel === "hand" ? settings.handLooseUm / 1000 : 0);
    if (low !== null && (least === null || low > least.at)) least = { at: low, by };
    if (high !== null && (most === null || high < most.at)) most = { at: high, by };
  }
  return {
    leastMm: least?.at ?? null,
    mostMm: most?.at ?? null,
    leastBy: least?.by ?? null,
    mostBy: most?.by ?? null,
  };
}

function againstBore(bounds: PlugBounds, bore: MeasuredBore, plugU: number): PlugFinding[] {
  const findings: PlugFinding[] = [];
  const together = bore.uncertaintyMm + plugU;
  const contradicts = (
    side: "bore-too-small" | "bore-too-large",
    plug: PlugTrial | null,
    boreMm: number,
    beyondMm: number,
  ): void => {
    if (plug === null || !(beyondMm > 0)) return;
    findings.push({
      code: "gauge-problem",
      side,
      plug,
      boreMm,
      beyondUm: beyondMm * 1000,
      oddLobesPossible: side === "bore-too-large" && plug.across !== true,
    });
  };
  const { leastMm, leastBy, mostMm, mostBy, across } = bounds;
  const { smallestMm, largestMm = Infinity } = bore;
  // No plug larger than the smallest two-point size can enter.
  if (leastMm !== null) contradicts("bore-too-small", leastBy, smallestMm, leastMm - smallestMm - together);
  if (mostMm !== null) contradicts("bore-too-large", mostBy, smallestMm, smallestMm - mostMm - together);
  if (across.leastMm !== null)
    contradicts("bore-too-small", across.leastBy, largestMm, across.leastMm - largestMm - together);
  if (across.mostMm !== null && Number.isFinite(largestMm))
    contradicts("bore-too-large", across.mostBy, largestMm, largestMm - across.mostMm - together);
  return findings;
}

export type BarFinding =
  | { readonly code: "bar-in-line"; readonly mostArcmin: number }
  | { readonly code: "bar-slightly-out"; readonly leastArcmin: number; readonly mostArcmin: number }
  /** Clearly out: common practice is to reject. */
  | { readonly code: "bar-reject"; readonly leastArcmin: number }
  /** Bar against the measured tilt beyond both uncertainties. */
  | { readonly code: "gauge-problem"; readonly tiltArcmin: number; readonly beyondArcmin: number };

/**
 * The bar through seated gauges as evidence on the pair: bounds on the tilt of the worse seat, and whether they contradict the
 * measured tilt.
 *
 * @param result - how the bar passed
 * @param set - the gauges and the bar
 * @param tilt - larger measured tilt of the two seats and its U, arc minutes, or null
 * @returns findings, the bounds first
 * @throws CoreError not-finite, out-of-range
 * Source: common practice, no source
 */
export function barEvidence(
  result: GaugeBarResult,
  set: GaugeBarSet,
  tilt: { readonly arcmin: number; readonly uncertaintyArcmin: number } | null,
): readonly BarFinding[] {
  const { leastArcmin, mostArcmin, uncertaintyArcmin } = tiltBoundsOfPassage(set, result);
  const findings: BarFinding[] = [
    mostArcmin === null
      ? { code: "bar-reject", leastArcmin }
      : result === "free"
        ? { code: "bar-in-line", mostArcmin }
        : { code: "bar-slightly-out", leastArcmin, mostArcmin },
  ];
  if (tilt === null) return findings;
  if (!Number.isFinite(tilt.arcmin) || !Number.isFinite(tilt.uncertaintyArcmin))
    throw new CoreError("not-finite", `barEvidence: tilt must be finite; got ${tilt.arcmin}`);
  const together = tilt.uncertaintyArcmin + uncertaintyArcmin;
  const below = leastArcmin - tilt.arcmin - together;
  const above = mostArcmin === null ? -Infinity : tilt.arcmin - mostArcmin - together;
  if (below > 0 || above > 0)
    findings.push({ code: "gauge-problem", tiltArcmin: tilt.arcmin, beyondArcmin: Math.max(below, above) });
  return findings;
}

function assertTrials(trials: readonly PlugTrial[], bore: MeasuredBore | null): void {
  trials.forEach(({ sizeMm }, index) => {
    if (!Number.isFinite(sizeMm))
      throw new CoreError("not-finite", `plugEvidence: trials must be finite; got ${sizeMm} (at index ${index})`, {
        index,
      });
    if (!(sizeMm > 0))
      throw new CoreError("out-of-range", `plugEvidence: trials must be > 0; got ${sizeMm} (at index ${index})`, {
        index,
      });
  });
  if (bore !== null && (!Number.isFinite(bore.smallestMm) || !Number.isFinite(bore.uncertaintyMm)))
    throw new CoreError("not-finite", `plugEvidence: bore must be finite; got ${bore.smallestMm}`);
}
