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
