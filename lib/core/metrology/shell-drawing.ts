import type { Seat } from "./reading-name";

/** The characteristics that a shell drawing can limit, by the names used on screens, in files and over HTTP. */
export const CHARACTERISTIC_NAMES = [
  "bore",
  "ovality",
  "taper",
  "coaxiality",
  "tilt",
  "face run-out",
  "width",
] as const;

export type CharacteristicName = (typeof CHARACTERISTIC_NAMES)[number];

/** Unit in which a characteristic is stated: sizes mm, form and position µm, tilt arc minutes. */
export const CHARACTERISTIC_UNIT = {
  bore: "mm",
  ovality: "µm",
  taper: "µm",
  coaxiality: "µm",
  tilt: "arcmin",
  "face run-out": "µm",
  width: "mm",
} as const satisfies Record<CharacteristicName, "mm" | "µm" | "arcmin">;

export type CharacteristicUnit = (typeof CHARACTERISTIC_UNIT)[CharacteristicName];

/**
 * One characteristic of a drawing. Limits, target and uncertainty are in the characteristic's unit.
 * Taper is limited on its absolute value (`lower` null). A characteristic of both seats has one set of limits.
 */
export type Characteristic = {
  readonly name: CharacteristicName;
  readonly lower: number | null;
  readonly upper: number | null;
  /** Where the process should sit if that is not the middle. */
  readonly target: number | null;
  readonly critical: boolean;
  /** Expanded uncertainty U (k = 2) of one value under the drawing's full plan. */
  readonly uncertainty: number;
};

/**
 * Guard band of the decision rule (ISO 14253-1): U at k = 2; 1.65 u_c (2017 edition), which is 0.825 U; or none (simple
 * acceptance).
 */
export type DecisionRule = "guard-u" | "guard-1.65uc" | "simple";

/** A ring of a press fit: Young's modulus GPa, Poisson's ratio, thermal expansion 1e-6/K. */
export type Material = {
  readonly name: string;
  readonly youngsModulusGpa: number;
  readonly poissonsRatio: number;
  readonly expansionPerMegakelvin: number;
};

/** The rolling bearing that the shell carries. Deviations µm from nominal, upper first; clearance µm, radial, unmounted. */
export type CarriedBearing = {
  readonly designation: string;
  readonly boreMm: number;
  readonly outsideDiameterMm: number;
  readonly widthMm: number;
  readonly ballDiameterMm: number;
  readonly clearanceClass: string;
  readonly clearanceUm: readonly [min: number, max: number];
  readonly outsideDeviationUm: readonly [upper: number, lower: number];
};

/** The cup between bearing and shell, where there is one. */
export type CarriedCup = {
  readonly outsideDiameterMm: number;
  readonly outsideDeviationUm: readonly [upper: number, lower: number];
  readonly wallMm: number;
  readonly material: Material;
};

/** One revision of a shell drawing: dimensions mm, characteristics, decision rule, and what it carries. */
export type ShellDrawing = {
  readonly key: string;
  readonly title: string;
  readonly revision: string;
  /** True where the limits are a demonstration or a proposal, no standard: the screens say so. */
  readonly invented: boolean;
  readonly nominalBoreMm: number;
  readonly seatDepthMm: number;
  readonly faceOutsideDiameterMm: number;
  /** Diameter on which the face indicator sweeps, and the diameter at which its limit holds. */
  readonly faceSweepDiameterMm: number;
  readonly faceLimitDiameterMm: number;
  readonly widthMm: number;
  readonly shellOutsideDiameterMm: number;
  readonly shellMaterial: Material;
  /** Depths of the measured sections of the full plan, mm from the seat's own face. */
  readonly fullPlanDepthsMm: readonly number[];
  readonly decisionRule: DecisionRule;
  /** Largest nonconforming fraction that a sampled batch may have at its upper 95 % bound. */
  readonly nonconformingFractionLimit: number;
  readonly characteristics: readonly Characteristic[];
  readonly carries: { readonly bearing: CarriedBearing; readonly cup: CarriedCup | null };
};

/**
 * Features computed from the readings of one inspection, in the order in which a drawing revision stores them.
 * Sizes mm; ovality, taper, bore range, run-out, coaxiality and offsets µm; tilts arc minutes.
 */
export const FEATURE_NAMES = [
  "ds.bore.smallest",
  "ds.bore.largest",
  "ds.bore.mean",
  "nds.bore.smallest",
  "nds.bore.largest",
  "nds.bore.mean",
  "ds.ovality",
  "nds.ovality",
  "ds.taper",
  "nds.taper",
  /** Zone diameter of the swept seat to the other seat as datum. */
  "coaxiality",
  /** Offset of the swept seat's mid-point from the datum axis towards 12 o'clock and towards 3 o'clock. */
  "offset.12",
  "offset.3",
  "ds.tilt",
  "nds.tilt",
  "ds.face",
  "nds.face",
  "width.smallest",
  "width.largest",
  "width.mean",
  /** Range of the diameters within the bore: the spread chart beside the mean's. */
  "ds.bore.range",
  "nds.bore.range",
  /** Zone diameter to the common axis A-B: shown, never judged. */
  "coaxiality.common",
] as const;

export type FeatureName = (typeof FEATURE_NAMES)[number];

/** A judged feature's characteristic and seat; null for features that carry no limit. */
export function characteristicOf(feature: FeatureName): { name: CharacteristicName; seat: Seat | null } | null {
  const [head, tail, end] = feature.split(".");
  if (head === "ds" || head === "nds") {
    if (tail === "bore") return end === "smallest" || end === "largest" ? { name: "bore", seat: head } : null;
    return { name: tail === "face" ? "face run-out" : (tail as CharacteristicName), seat: head };
  }
  if (feature === "coaxiality") return { name: "coaxiality", seat: "nds" };
  if (feature === "width.smallest" || feature === "width.largest") return { name: "width", seat: null };
  return null;
}
