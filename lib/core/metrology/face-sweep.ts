import type { Estimate } from "../errors";
import { type HarmonicDesign, designHarmonics, fitHarmonics } from "./harmonic-fit";
import type { Seat } from "./reading-name";

/** Standard deviation of one axial indicator reading, µm: gives U = 4 µm for 2 x A1 of four readings (invented for the demonstration). */
export const FACE_NOISE_UM = Math.SQRT2;

export type FaceReading = { readonly index: number; readonly angleDeg: number };

export type FaceDesign = {
  readonly seat: Seat;
  readonly indices: readonly number[];
  readonly anglesDeg: readonly number[];
  readonly harmonics: HarmonicDesign | null;
  readonly reason: string | null;
};

/** What an axial sweep of a face says, µm. */
export type FaceMeasurement = {
  readonly seat: Seat;
  /** 2 x A1 x limit diameter / sweep diameter. */
  readonly runOutUm: number;
  /** Clock position of the high side (furthest out from the shell), degrees. */
  readonly highSideDeg: number;
  /** First harmonic on the sweep circle, outwards positive. */
  readonly towards12Um: number;
  readonly towards3Um: number;
  /** Peak to valley of what is left without mean and first harmonic, on the sweep circle. */
  readonly wavinessUm: number;
  readonly standardErrorUm: number | null;
  /** Reading that does not fit the others, and how far it lies from what they foretell. */
  readonly outlierIndex: number | null;
  readonly outlierDeviationUm: number | null;
  readonly outlierDetectable: boolean;
};

function faceHarmonics(anglesDeg: readonly number[]): Estimate<HarmonicDesign> {
  const distinct = new Set(anglesDeg.map((angle) => angle % 360)).size;
  if (distinct < 3) return { ok: false, reason: `a face sweep needs three different angles; there are ${distinct}` };
  return designHarmonics(anglesDeg, [1]);
}

/** Design of the axial sweep of one face; not estimable (reason set) with fewer than three different angles. */
export function designFace(seat: Seat, readings: readonly FaceReading[]): FaceDesign {
  const anglesDeg = readings.map((r) => r.angleDeg);
  const design = faceHarmonics(anglesDeg);
  return {
    seat,
    indices: readings.map((r) => r.index),
    anglesDeg,
    harmonics: design.ok ? design.value : null,
    reason: design.ok ? null : design.reason,
  };
}

/**
 * Face run-out from an axial sweep about the seat's own axis.
 *
 * @param design - from designFace
 * @param values - readings of the inspection, µm, growing outwards from the shell; null where there is none
 * @param diameterRatio - diameter at which the limit holds / diameter of the sweep
 * @returns run-out at the limit diameter, waviness on the sweep circle; not estimable from fewer than three angles
 */
export function measureFace(
  design: FaceDesign,
  values: readonly (number | null)[],
  diameterRatio: number,
): Estimate<FaceMeasurement> {
  const places = design.indices.map((_, place) => place).filter((place) => values[design.indices[place]!] !== null);
  let harmonics = design.harmonics;
  if (places.length < design.indices.length) {
    const rest = faceHarmonics(places.map((place) => design.anglesDeg[place]!));
    if (!rest.ok) return rest;
    harmonics = rest.value;
  }
  if (harmonics === null) return { ok: false, reason: design.reason ?? "no face sweep" };
  const readings = new Float64Array(places.length);
  for (let i = 0; i < places.length; i += 1) readings[i] = values[design.indices[places[i]!]!]!;
  const fit = fitHarmonics(harmonics, readings, FACE_NOISE_UM);
  const first = fit.harmonics[0]!;
  return {
    ok: true,
    value: {
      seat: design.seat,
      runOutUm: 2 * first.amplitude * diameterRatio,
      highSideDeg: first.positionDeg,
      towards12Um: first.cos,
      towards3Um: first.sin,
      wavinessUm: Math.max(...fit.residuals) - Math.min(...fit.residuals),
      standardErrorUm: first.standardError,
      outlierIndex: fit.outlier === null ? null : design.indices[places[fit.outlier.index]!]!,
      outlierDeviationUm: fit.outlier?.deviation ?? null,
      outlierDetectable: fit.outlierDetectable,
    },
    warnings: [],
  };
}
