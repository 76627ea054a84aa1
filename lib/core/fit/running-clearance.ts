import { CoreError } from "../errors";
import type { Material } from "../metrology/shell-drawing";
import { type FitRing, pressFit } from "./press-fit";

/** Bearing steel of the rings. */
export const BEARING_STEEL: Material = {
  name: "bearing steel",
  youngsModulusGpa: 206,
  poissonsRatio: 0.3,
  expansionPerMegakelvin: 12,
};

/** Least, mean and largest of a quantity over the tolerances, µm. */
export type Band = { readonly minUm: number; readonly meanUm: number; readonly maxUm: number };

/** Mean clearance from which on a bearing is said to run free, µm: what rounds to one whole micrometre, as it is shown. */
const FREE_FROM_UM = 0.5;

/** What the bearing does: runs free (mean clearance of 0.5 µm or more), drags (some clearance for some pairs), preloaded (none). */
export type RunningVerdict = "runs free" | "drags" | "preloaded";

/** A bearing, with or without a cup, pressed into a shell. Interference diametral, µm, negative is clearance. */
export type RunningClearanceInput = {
  readonly bearing: { readonly boreMm: number; readonly outsideDiameterMm: number };
  /** Radial internal clearance before mounting (full play), µm. */
  readonly clearanceUm: readonly [min: number, max: number];
  readonly cup: { readonly outsideDiameterMm: number; readonly wallMm: number; readonly material: Material } | null;
  readonly shell: { readonly outsideDiameterMm: number; readonly material: Material };
  /** Of the cup, or of the bearing where there is no cup, in the shell. */
  readonly interferenceUm: readonly [least: number, most: number];
  /** Of the bearing in the cup; [0, 0] where nothing is known: a line fit. */
  readonly bearingInCupUm?: readonly [least: number, most: number];
  /** Everything warmer than 20 C by this, K: materials that grow differently change the interference. */
  readonly warmerByK?: number;
};

export type RunningClearance = {
  readonly clearance: Band;
  /** Contraction of the outer raceway: clearance that the press fit takes. */
  readonly loss: Band;
  /** The loss at mean interference with the shell's own wall and with an endless wall: the truth lies between. */
  readonly meanLossFiniteWallUm: number;
  readonly meanLossEndlessWallUm: number;
  readonly verdict: RunningVerdict;
};

/**
 * Outer raceway's diameter from the outside dimensions, for estimates.
 * Source: from memory: (4 D + d) / 5
 */
export function outerRacewayDiameterMm(boreMm: number, outsideDiameterMm: number): number {
  return (4 * outsideDiameterMm + boreMm) / 5;
}

/**
 * Operating clearance of a bearing in its shell, least, mean and largest over the tolerances.
 * Formula: operating = initial - contraction of the outer raceway by the press fit. Least: smallest initial clearance, largest
 * interference, endless wall. Largest: largest initial clearance, smallest interference, finite wall. Mean: mean values, mean
 * of both walls: a bearing narrower than the shell is long lies between the two.
 *
 * @param input - RunningClearanceInput
 * @returns bands in µm and what the bearing does
 * @throws CoreError not-finite; out-of-range for walls that cannot be; invalid-argument where a band is the wrong way round
 * Source: Lamé (`pressFit`); bearing makers' general catalogues for the clearance relation
 */
export function runningClearance(input: RunningClearanceInput): RunningClearance {
  const { clearanceUm, interferenceUm, bearingInCupUm = [0, 0] } = input;
  for (const [name, [low, high]] of Object.entries({ clearanceUm, interferenceUm, bearingInCupUm })) {
    if (!Number.isFinite(low) || !Number.isFinite(high))
      throw new CoreError("not-finite", `runningClearance: ${name} must be finite; got ${low} to ${high}`);
    if (low > high)
      throw new CoreError("invalid-argument", `runningClearance: ${name} must run upwards; got ${low} to ${high}`);
  }
  const mean = ([low, high]: readonly [number, number]) => (low + high) / 2;
  const loss = (shellUm: number, cupUm: number, endless: boolean) =>
    racewayContractionUm(input, shellUm, cupUm, endless);
  const least = loss(interferenceUm[0], bearingInCupUm[0], false);
  const most = loss(interferenceUm[1], bearingInCupUm[1], true);
  const finite = loss(mean(interferenceUm), mean(bearingInCupUm), false);
  const endless = loss(mean(interferenceUm), mean(bearingInCupUm), true);
  const clearance = {
    minUm: clearanceUm[0] - most,
    meanUm: mean(clearanceUm) - (finite + endless) / 2,
    maxUm: clearanceUm[1] - least,
  };
  return {
    clearance,
    loss: { minUm: least, meanUm: (finite + endless) / 2, maxUm: most },
    meanLossFiniteWallUm: finite,
    meanLossEndlessWallUm: endless,
    verdict: clearance.meanUm >= FREE_FROM_UM ? "runs free" : clearance.maxUm > 0 ? "drags" : "preloaded",
  };
}

/** Contraction of the outer raceway's diameter, µm, at given interferences. */
function racewayContractionUm(input: RunningClearanceInput, shellUm: number, cupUm: number, endless: boolean): number {
  const { bearing, cup, shell, warmerByK = 0 } = input;
  if (!Number.isFinite(warmerByK))
    throw new CoreError("not-finite", `runningClearance: warmerByK must be finite; got ${warmerByK}`);
  const raceway = outerRacewayDiameterMm(bearing.boreMm, bearing.outsideDiameterMm) / 2;
  const outside = bearing.outsideDiameterMm / 2;
  const seat = cup === null ? outside : cup.outsideDiameterMm / 2;
  if (cup !== null && !(cup.wallMm > 0))
    throw new CoreError("out-of-range", `runningClearance: cup.wallMm must be > 0; got ${cup.wallMm}`);
  if (!(shell.outsideDiameterMm / 2 > seat))
    throw new CoreError(
      "out-of-range",
      `runningClearance: the shell must be larger than its seat; got ${shell.outsideDiameterMm} and ${2 * seat}`,
    );
  const grown = (radius: number, inner: Material, outer: Material) =>
    2 * radius * (inner.expansionPerMegakelvin - outer.expansionPerMegakelvin) * 1e-6 * warmerByK;
  const shellRing = ringOf(seat, endless ? Infinity : shell.outsideDiameterMm / 2, shell.material);
  const outerRing = ringOf(raceway, outside, BEARING_STEEL);
  const rings =
    cup === null ? [outerRing, shellRing] : [outerRing, ringOf(seat - cup.wallMm, seat, cup.material), shellRing];
  const inShell = shellUm / 1000 + grown(seat, cup === null ? BEARING_STEEL : cup.material, shell.material);
  const valuesMm = cup === null ? [inShell] : [cupUm / 1000 + grown(outside, BEARING_STEEL, cup.material), inShell];
  const inner = pressFit(rings, { measure: "diametral", valuesMm }).rings[0]!;
  return -2000 * inner.innerDisplacementMm || 0;
}

function ringOf(innerRadiusMm: number, outerRadiusMm: number, material: Material): FitRing {
  const { youngsModulusGpa, poissonsRatio } = material;
  return { innerRadiusMm, outerRadiusMm, youngsModulusGpa, poissonsRatio };
}
