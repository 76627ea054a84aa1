import { zoneOfTiltUm } from "../core/metrology/felt-coverage";
import { gaugeBarSet, type GaugeBarResult, type TiltBounds, tiltBoundsOfPassage } from "../core/metrology/gauge-bar";
import { type PlugBounds, plugEvidence, type PlugTrial } from "../core/metrology/plug-evidence";
import type { ReadingName, Seat } from "../core/metrology/reading-name";
import type { Characteristic, CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import { conformity, guardBand } from "./conformity";
import type { Verdict } from "./verdict-words";

/** Least and most that a characteristic can be, in its unit; null where nothing bounds it. */
export type Bounds = { readonly least: number | null; readonly most: number | null };

/** What plugs say of a seat against the limits of its size. */
export type SeatBounds = Bounds & {
  readonly verdict: Verdict;
  /** The limit that is broken, where one is. */
  readonly broken: "lower" | "upper" | null;
  /** The most that the smallest size, and the least that the largest can be, mm. */
  readonly smallestMost: number | null;
  readonly largestLeast: number | null;
  /** Oval that the most allows for because nothing was tried across the seat, µm; null where a rod gives the most. */
  readonly ovalUm: number | null;
};

type OneSided = Pick<Characteristic, "lower" | "upper">;

function isInside(bound: number | null, limits: OneSided, guard: number): boolean {
  if (limits.lower === null && limits.upper === null) return true;
  return bound !== null && Number.isFinite(bound) && conformity(bound, { ...limits, guard }) === "conforms";
}

function isOutside(bound: number | null, limits: OneSided, guard: number): boolean {
  return bound !== null && Number.isFinite(bound) && conformity(bound, { ...limits, guard }) === "does not conform";
}

/** The smaller of two bounds of which either can be missing. */
function smaller(a: number | null, b: number | null): number | null {
  return a === null || b === null ? (a ?? b) : Math.min(a, b);
}

function larger(a: number | null, b: number | null): number | null {
  return a === null || b === null ? (a ?? b) : Math.max(a, b);
}

/**
 * Verdict of a seat's size from what its plugs bound. The passage stands for the smallest size; the largest is bounded by a rod
 * across the seat, else by the passage and the oval that the drawing allows, which a plug along the seat does not feel.
 *
 * @param plugs - bounds of plugEvidence, mm
 * @param uncertaintyMm - U of a plug's size
 * @returns conforms where the bounds lie inside the limits, does not conform where they lie outside, each by the guard band
 */
export function seatBounds(
  plugs: PlugBounds,
  drawing: ShellDrawing,
  { lower, upper }: OneSided,
  uncertaintyMm: number,
): SeatBounds {
  const guard = guardBand(drawing.decisionRule, uncertaintyMm);
  const oval = drawing.characteristics.find(({ name }) => name === "ovality")?.upper ?? Infinity;
  const alongMost = plugs.mostMm === null || !Number.isFinite(oval) ? null : plugs.mostMm + oval / 1000;
  const most = smaller(plugs.across.mostMm, alongMost);
  const largestLeast = larger(plugs.across.leastMm, plugs.leastMm);
  const below: OneSided = { lower, upper: null };
  const above: OneSided = { lower: null, upper };
  const broken = isOutside(plugs.mostMm, below, guard)
    ? "lower"
    : isOutside(largestLeast, above, guard)
      ? "upper"
      : null;
  const isProven = isInside(plugs.leastMm, below, guard) && isInside(most, above, guard);
  return {
    least: plugs.leastMm,
    most,
    smallestMost: plugs.mostMm,
    largestLeast,
    broken,
    ovalUm: most === null || most === plugs.across.mostMm ? null : oval,
    verdict: broken !== null ? "does not conform" : isProven ? "conforms" : "not proven",
  };
}

/** How one bar passed, with the tilts of the worse seat that this allows. */
export type BarBounds = TiltBounds & {
  readonly set: string;
  readonly result: GaugeBarResult;
  readonly clearanceUm: number;
};

/** Bounds of each bar that was tried and whose set is known. */
export function barBounds(bars: readonly { readonly set: string; readonly result: "free" | "stiff" | "no" }[]) {
  return bars.flatMap(({ set, result }): BarBounds[] => {
    const gauges = gaugeBarSet(set);
    if (gauges === null) return [];
    const passage: GaugeBarResult = result === "no" ? "will not pass" : result;
    const clearanceUm = (gauges.gaugeBoreMm - gauges.barMm) * 1000;
    return [{ ...tiltBoundsOfPassage(gauges, passage), set, result: passage, clearanceUm }];
  });
}

/** Bars that were tried and whose sets nobody knows. */
export function unknownBars<Bar extends { readonly set: string }>(bars: readonly Bar[]): readonly Bar[] {
  return bars.filter(({ set }) => gaugeBarSet(set) === null);
}

/** What bars say of the tilt of the worse seat, arc minutes, or of coaxiality, µm. */
export type AlignmentBounds = Bounds & { readonly verdict: Verdict };

/** Tilt of the worse seat against its limit. */
export function tiltOfBars(bars: readonly BarBounds[], drawing: ShellDrawing, { upper }: OneSided): AlignmentBounds {
  return alignment(bars, upper, {
    least: (bar) => bar.leastArcmin,
    most: (bar) => bar.mostArcmin,
    guard: (bar) => guardBand(drawing.decisionRule, bar.uncertaintyArcmin),
  });
}

/** Coaxiality: a bar that passes bounds it from above; none bounds it from below, since a seat can tilt about its own middle. */
export function zoneOfBars(bars: readonly BarBounds[], drawing: ShellDrawing, { upper }: OneSided): AlignmentBounds {
  return alignment(bars, upper, {
    least: () => null,
    most: (bar) => (bar.mostArcmin === null ? null : zoneOfTiltUm(drawing, bar.mostArcmin)),
    guard: (bar) => guardBand(drawing.decisionRule, zoneOfTiltUm(drawing, bar.uncertaintyArcmin)),
  });
}

function alignment(
  bars: readonly BarBounds[],
  upper: number | null,
  of: Readonly<Record<"least" | "most", (bar: BarBounds) => number | null> & { guard: (bar: BarBounds) => number }>,
): AlignmentBounds {
  const above: OneSided = { lower: null, upper };
  const isBroken = bars.some((bar) => isOutside(of.least(bar), above, of.guard(bar)));
  const isProven = bars.some((bar) => isInside(of.most(bar), above, of.guard(bar)));
  return {
    least: bars.map(of.least).reduce(larger, null),
    most: bars.map(of.most).reduce(smaller, null),
    verdict: isBroken ? "does not conform" : isProven ? "conforms" : "not proven",
  };
}

/** Two bars that cannot both have been felt right, beyond the U of both. */
export function contradictingBars(bars: readonly BarBounds[]): readonly [BarBounds, BarBounds] | null {
  for (const tight of bars)
    for (const wide of bars)
      if (
        tight.mostArcmin !== null &&
        wide.leastArcmin - wide.uncertaintyArcmin > tight.mostArcmin + tight.uncertaintyArcmin
      )
        return [tight, wide];
  return null;
}

/** What the trials of a plan can prove of a characteristic at best. */
export type FeltReach = { readonly canConform: boolean; readonly canFail: boolean };

/** Every way in which plugs of growing size go from sliding to not entering. */
function answersOf(names: readonly Extract<ReadingName, { kind: "plug" }>[]): PlugTrial[][] {
  const bySize = [...names].sort((a, b) => a.sizeMm - b.sizeMm);
  return Array.from({ length: bySize.length + 1 }, (_, enter) =>
    bySize.map(({ sizeMm, across }, place): PlugTrial => ({
      sizeMm,
      feel: place < enter ? "slides" : "no",
      ...(across === true ? { across } : {}),
    })),
  );
}

/**
 * What plugs and bars of a plan can prove of a characteristic: whether any answers make it conform, and whether any show it broken.
 *
 * @param uncertaintyMm - U of a plug's size
 */
export function feltReach(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  { name, seat }: { readonly name: CharacteristicName; readonly seat: Seat | null },
  uncertaintyMm: number,
): FeltReach {
  const limits = drawing.characteristics.find((one) => one.name === name);
  if (limits === undefined) return { canConform: false, canFail: false };
  const verdicts = new Set<Verdict>();
  if (name === "bore") {
    const plugs = names.filter((one) => one.kind === "plug").filter((one) => one.seat === seat);
    for (const along of answersOf(plugs.filter(({ across }) => across !== true)))
      for (const across of answersOf(plugs.filter((one) => one.across === true))) {
        const { bounds, findings } = plugEvidence([...along, ...across], null);
        if (findings.some(({ code }) => code === "plugs-contradict")) continue;
        verdicts.add(seatBounds(bounds, drawing, limits, uncertaintyMm).verdict);
      }
  } else {
    const sets = names.flatMap((one) => (one.kind === "bar" ? [one.set] : []));
    const judge = name === "tilt" ? tiltOfBars : zoneOfBars;
    for (const set of sets)
      for (const result of ["free", "stiff", "no"] as const)
        verdicts.add(judge(barBounds([{ set, result }]), drawing, limits).verdict);
  }
  return { canConform: verdicts.has("conforms"), canFail: verdicts.has("does not conform") };
}
