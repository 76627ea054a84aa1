import { CoreError, type Estimate } from "../errors";
import { clockOf, type PlanePoint } from "./plane-point";
import type { Seat } from "./reading-name";

/** A set of two plug gauges with a bore each and the bar that goes through both. Common practice, no source: settings. */
export type GaugeBarSet = {
  readonly gaugeBoreMm: number;
  readonly barMm: number;
  readonly gaugeLengthMm: number;
  /** Clearance over which the bar turns freely, µm. */
  readonly freeAboveUm: number;
  /** Clearance below which it does not pass, µm. */
  readonly passesFromUm: number;
  /** Uncertainty U of the clearance: sizes of bar and gauges, play of the seated gauges, feel, µm. */
  readonly clearanceUncertaintyUm?: number;
};

/** U of the clearance where a set does not say its own, µm. Common practice, no source. */
export const USUAL_CLEARANCE_UNCERTAINTY_UM = 2;

/** Common practice, no source: 20 mm bar, 20 µm clearance, gauges as long as a 12 mm seat; free over 5 µm, no passage below 0. */
export const USUAL_GAUGE_BAR_SET: GaugeBarSet = {
  gaugeBoreMm: 20.02,
  barMm: 20,
  gaugeLengthMm: 12,
  freeAboveUm: 5,
  passesFromUm: 0,
  clearanceUncertaintyUm: USUAL_CLEARANCE_UNCERTAINTY_UM,
};

/**
 * A closer set: where its bar turns freely, the seats are in line well enough for a tilt of 4' and a coaxiality of 0.1 mm, which
 * the usual set's 20 µm cannot say. Invented, a setting.
 */
const CLOSE_GAUGE_BAR_SET: GaugeBarSet = { ...USUAL_GAUGE_BAR_SET, gaugeBoreMm: 20.01 };

/** Sets of gauges and bar by their name. */
const GAUGE_BAR_SETS: Readonly<Record<string, GaugeBarSet>> = { A: USUAL_GAUGE_BAR_SET, B: CLOSE_GAUGE_BAR_SET };

/** Names of the sets whose sizes are known. */
export const KNOWN_BAR_SETS: readonly string[] = Object.keys(GAUGE_BAR_SETS);

/** Gauges and bar of a set by its name, in any capitals; null where nobody knows their sizes, so that its bar bounds nothing. */
export function gaugeBarSet(name: string): GaugeBarSet | null {
  const key = name.toUpperCase();
  return Object.hasOwn(GAUGE_BAR_SETS, key) ? (GAUGE_BAR_SETS[key] ?? null) : null;
}

export type GaugeBarResult = "free" | "stiff" | "will not pass";

/** The bar in one seated gauge; contacts, degrees clockwise from 12 seen from the drive side, null where the gauge is in line. */
export type GaugeBarSeat = {
  readonly seat: Seat;
  readonly tiltArcmin: number;
  readonly clearanceUm: number;
  readonly result: GaugeBarResult;
  /** At the edge towards the middle of the shell, and at the edge towards its end. */
  readonly innerContactDeg: number | null;
  readonly outerContactDeg: number | null;
};

export type GaugeBarPassage = {
  readonly result: GaugeBarResult;
  readonly clearanceUm: number;
  /** The seat that decides. */
  readonly worse: Seat;
  readonly seats: Readonly<Record<Seat, GaugeBarSeat>>;
};

const ARCMIN_PER_RAD = 10800 / Math.PI;
/** Arc minutes below which a gauge counts as in line: no contact side can be told. */
const IN_LINE_ARCMIN = 1e-6;

/**
 * What a bar feels that goes through plug gauges seated in both seats.
 * Formula: clearance = gauge bore - bar - gauge length * tilt of the seat (rad) to the common axis; the worse side decides
 *
 * @param set - GaugeBarSet, mm and µm
 * @param slopes - slope of each seat's axis (dy/dx, dz/dx), x from DS to NDS; null where it is not estimable
 * @param commonSlope - slope of the line through both seats' mid-points
 * @returns clearance, result and contacts of each seat, or no answer where a tilt is not known
 * @throws CoreError not-finite, out-of-range
 * Contacts: the bar follows the common axis. Where it leans against its gauge going inwards, it touches the gauge's inner edge
 * on that side and the outer edge opposite.
 * Source: common practice, no source
 */
export function gaugeBarPassage(
  set: GaugeBarSet,
  slopes: Readonly<Record<Seat, PlanePoint | null>>,
  commonSlope: PlanePoint,
): Estimate<GaugeBarPassage> {
  assertSet(set);
  const { ds, nds } = slopes;
  if (ds === null || nds === null)
    return { ok: false, reason: "the tilt of a seat is not estimable: one section gives no tilt" };
  for (const slope of [ds, nds, commonSlope])
    if (!Number.isFinite(slope.y) || !Number.isFinite(slope.z))
      throw new CoreError("not-finite", `gaugeBarPassage: slopes must be finite; got (${slope.y}, ${slope.z})`);
  const seats = { ds: passGauge(set, "ds", ds, commonSlope), nds: passGauge(set, "nds", nds, commonSlope) };
  const worse: Seat = seats.nds.clearanceUm < seats.ds.clearanceUm ? "nds" : "ds";
  const { result, clearanceUm } = seats[worse];
  return { ok: true, value: { result, clearanceUm, worse, seats }, warnings: [] };
}

function passGauge(set: GaugeBarSet, seat: Seat, slope: PlanePoint, common: PlanePoint): GaugeBarSeat {
  // Lean of the bar against the gauge per mm going inwards: inwards is +x in the DS seat, -x in the NDS seat.
  const inwards = seat === "ds" ? 1 : -1;
  const lean = { y: inwards * (common.y - slope.y), z: inwards * (common.z - slope.z) };
  const tilt = Math.atan(Math.hypot(lean.y, lean.z));
  const clearanceUm = (set.gaugeBoreMm - set.barMm - set.gaugeLengthMm * tilt) * 1000;
  const inLine = tilt * ARCMIN_PER_RAD < IN_LINE_ARCMIN;
  const inner = clockOf(lean);
  return {
    seat,
    tiltArcmin: tilt * ARCMIN_PER_RAD,
    clearanceUm,
    result: resultOf(set, clearanceUm),
    innerContactDeg: inLine ? null : inner,
    outerContactDeg: inLine ? null : (inner + 180) % 360,
  };
}

function resultOf(set: GaugeBarSet, clearanceUm: number): GaugeBarResult {
  if (clearanceUm > set.freeAboveUm) return "free";
  return clearanceUm >= set.passesFromUm ? "stiff" : "will not pass";
}

/** Tilt of the worse seat, arc minutes; most null where there is no upper bound; U of either bound. */
export type TiltBounds = {
  readonly leastArcmin: number;
  readonly mostArcmin: number | null;
  readonly uncertaintyArcmin: number;
};

/**
 * Tilts that a passage of the bar allows for the worse seat: the evidence that a felt bar gives.
 * Formula: U of a bound = U of the clearance / gauge length
 *
 * @returns least and most tilt with their U
 * @throws CoreError not-finite, out-of-range
 */
export function tiltBoundsOfPassage(set: GaugeBarSet, result: GaugeBarResult): TiltBounds {
  assertSet(set);
  const uncertaintyUm = set.clearanceUncertaintyUm ?? USUAL_CLEARANCE_UNCERTAINTY_UM;
  const uncertaintyArcmin = (uncertaintyUm / 1000 / set.gaugeLengthMm) * ARCMIN_PER_RAD;
  const tiltAt = (clearanceUm: number) =>
    Math.max(0, (set.gaugeBoreMm - set.barMm - clearanceUm / 1000) / set.gaugeLengthMm) * ARCMIN_PER_RAD;
  if (result === "free") return { leastArcmin: 0, mostArcmin: tiltAt(set.freeAboveUm), uncertaintyArcmin };
  if (result === "stiff")
    return { leastArcmin: tiltAt(set.freeAboveUm), mostArcmin: tiltAt(set.passesFromUm), uncertaintyArcmin };
  return { leastArcmin: tiltAt(set.passesFromUm), mostArcmin: null, uncertaintyArcmin };
}

function assertSet(set: GaugeBarSet): void {
  const { gaugeBoreMm, barMm, gaugeLengthMm, freeAboveUm, passesFromUm, clearanceUncertaintyUm = 0 } = set;
  const numbers = [gaugeBoreMm, barMm, gaugeLengthMm, freeAboveUm, passesFromUm, clearanceUncertaintyUm];
  if (!numbers.every(Number.isFinite))
    throw new CoreError("not-finite", `gaugeBarPassage: set must be finite; got ${numbers.join(", ")}`);
  if (
    !(barMm > 0) ||
    !(gaugeBoreMm > barMm) ||
    !(gaugeLengthMm > 0) ||
    freeAboveUm < passesFromUm ||
    clearanceUncertaintyUm < 0
  )
    throw new CoreError(
      "out-of-range",
      `gaugeBarPassage: set must have 0 < barMm < gaugeBoreMm, gaugeLengthMm > 0, freeAboveUm >= passesFromUm; got ${numbers.join(", ")}`,
    );
}
