import { radialClearanceUm } from "../core/fit/clearance-class";
import type {
  CarriedBearing,
  CarriedCup,
  Characteristic,
  CharacteristicName,
  Material,
  ShellDrawing,
} from "../core/metrology/shell-drawing";

/** Elastic constants and expansion of ring materials (steel and aluminium as handbooks print them, the others from memory). */
export const ALUMINIUM: Material = {
  name: "aluminium",
  youngsModulusGpa: 68.9,
  poissonsRatio: 0.33,
  expansionPerMegakelvin: 23.6,
};
export const TITANIUM: Material = {
  name: "titanium",
  youngsModulusGpa: 107,
  poissonsRatio: 0.34,
  expansionPerMegakelvin: 8.6,
};
export const COMPOSITE: Material = {
  name: "carbon/epoxy, quasi-isotropic",
  youngsModulusGpa: 50,
  poissonsRatio: 0.31,
  expansionPerMegakelvin: 2.5,
};

/** Boundary dimensions ISO 15, clearance ISO 5753-1 (bore over 24 to 30), outside deviation ISO 492 Normal 30-50. */
const BEARING_25_37_7_C3: CarriedBearing = {
  designation: "61805",
  boreMm: 25,
  outsideDiameterMm: 37,
  widthMm: 7,
  ballDiameterMm: 3.5,
  clearanceClass: "C3",
  clearanceUm: radialClearanceUm(25, "C3"),
  outsideDeviationUm: [0, -11],
};
const BEARING_30_42_7_C3: CarriedBearing = {
  ...BEARING_25_37_7_C3,
  designation: "61806",
  boreMm: 30,
  outsideDiameterMm: 42,
};

const CUP_41: CarriedCup = {
  outsideDiameterMm: 41,
  outsideDeviationUm: [20, 5],
  wallMm: 2,
  material: ALUMINIUM,
};
const CUP_46: CarriedCup = {
  outsideDiameterMm: 46,
  outsideDeviationUm: [20, 5],
  wallMm: 2,
  material: ALUMINIUM,
};

type Limits = { readonly lower: number | null; readonly upper: number; readonly uncertainty: number };

function characteristic(name: CharacteristicName, critical: boolean, limits: Limits): Characteristic {
  return { name, critical, target: null, ...limits };
}

/** The characteristics that the three drawings have in common but for a few numbers (limits invented for the demonstration). */
function characteristics(own: {
  readonly bore: readonly [lower: number, upper: number];
  readonly ovalityUm: number;
  readonly coaxialityUncertaintyUm: number;
  readonly tiltUncertaintyArcmin: number;
  readonly width: readonly [lower: number, upper: number];
}): Characteristic[] {
  return [
    characteristic("bore", true, { lower: own.bore[0], upper: own.bore[1], uncertainty: 0.0059 }),
    characteristic("ovality", false, { lower: null, upper: own.ovalityUm, uncertainty: 4.4 }),
    characteristic("taper", false, { lower: null, upper: 10, uncertainty: 2.2 }),
    characteristic("coaxiality", true, { lower: null, upper: 100, uncertainty: own.coaxialityUncertaintyUm }),
    characteristic("tilt", true, { lower: null, upper: 4, uncertainty: own.tiltUncertaintyArcmin }),
    characteristic("face run-out", false, { lower: null, upper: 50, uncertainty: 4 }),
    characteristic("width", false, { lower: own.width[0], upper: own.width[1], uncertainty: 0.02 }),
  ];
}

const SHARED = {
  revision: "A",
  invented: true,
  decisionRule: "guard-u",
  nonconformingFractionLimit: 0.01,
} as const;

/** Press fit of flanged cups in a composite shell. */
export const PRESS_FIT_41: ShellDrawing = {
  ...SHARED,
  key: "press-fit-41",
  title: "Press fit 41, composite",
  nominalBoreMm: 41,
  seatDepthMm: 12,
  faceOutsideDiameterMm: 49,
  faceSweepDiameterMm: 44,
  faceLimitDiameterMm: 44,
  widthMm: 86.5,
  shellOutsideDiameterMm: 49,
  shellMaterial: COMPOSITE,
  fullPlanDepthsMm: [2, 8],
  characteristics: characteristics({
    bore: [40.95, 41],
    ovalityUm: 40,
    coaxialityUncertaintyUm: 12,
    tiltUncertaintyArcmin: 1,
    width: [86.3, 86.7],
  }),
  carries: { bearing: BEARING_25_37_7_C3, cup: CUP_41 },
};

/** Press fit of cups that hold a 42 mm bearing in an aluminium shell. */
export const PRESS_FIT_46: ShellDrawing = {
  ...SHARED,
  key: "press-fit-46",
  title: "Press fit 46, aluminium",
  nominalBoreMm: 46,
  seatDepthMm: 12,
  faceOutsideDiameterMm: 52,
  faceSweepDiameterMm: 49,
  faceLimitDiameterMm: 49,
  widthMm: 86.5,
  shellOutsideDiameterMm: 52,
  shellMaterial: ALUMINIUM,
  fullPlanDepthsMm: [2, 8],
  characteristics: characteristics({
    bore: [45.95, 46],
    ovalityUm: 30,
    coaxialityUncertaintyUm: 12,
    tiltUncertaintyArcmin: 1,
    width: [86.3, 86.7],
  }),
  carries: { bearing: BEARING_30_42_7_C3, cup: CUP_46 },
};

/** Bearing straight in an aluminium shell, bore P7. */
export const PRESS_FIT_42: ShellDrawing = {
  ...SHARED,
  key: "press-fit-42",
  title: "Press fit 42, bearing in the shell, aluminium",
  nominalBoreMm: 42,
  seatDepthMm: 7,
  faceOutsideDiameterMm: 50,
  faceSweepDiameterMm: 46,
  faceLimitDiameterMm: 46,
  widthMm: 68,
  shellOutsideDiameterMm: 50,
  shellMaterial: ALUMINIUM,
  fullPlanDepthsMm: [1.5, 5.5],
  characteristics: characteristics({
    bore: [41.958, 41.983],
    ovalityUm: 20,
    // Sections 4 mm apart carry their axis over 63 mm: the same budget gives 14.7 (0.23 µm a section x lever 15.75).
    coaxialityUncertaintyUm: 15,
    tiltUncertaintyArcmin: 1.5,
    width: [67.8, 68.2],
  }),
  carries: { bearing: BEARING_30_42_7_C3, cup: null },
};

/** The three demonstration drawings; their limits are invented and every screen says so. */
export const DEMONSTRATION_DRAWINGS: readonly ShellDrawing[] = [PRESS_FIT_41, PRESS_FIT_46, PRESS_FIT_42];

/** A demonstration drawing by its key, or null. */
export function findDemonstrationDrawing(key: string): ShellDrawing | null {
  return DEMONSTRATION_DRAWINGS.find((drawing) => drawing.key === key) ?? null;
}
