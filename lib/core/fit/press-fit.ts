import { CoreError } from "../errors";

/** One ring of a press fit. A solid inner member has inner radius 0; an endless outer wall has outer radius Infinity. */
export type FitRing = {
  readonly innerRadiusMm: number;
  readonly outerRadiusMm: number;
  readonly youngsModulusGpa: number;
  readonly poissonsRatio: number;
};

/** Interference of each pair of neighbours, inside out, mm; negative is clearance. Diametral or radial, as stated. */
export type FitInterferences = { readonly measure: "diametral" | "radial"; readonly valuesMm: readonly number[] };

/** A ring after pressing: radial displacement (outwards positive) and tangential stress at either radius. */
export type RingState = {
  readonly innerDisplacementMm: number;
  readonly outerDisplacementMm: number;
  readonly innerHoopStressMpa: number;
  readonly outerHoopStressMpa: number;
};

export type PressFit = {
  /** Pressure at each interface, inside out, MPa; 0 where the parts do not touch. */
  readonly pressuresMpa: readonly number[];
  readonly rings: readonly RingState[];
};

/** Neighbours whose common radius differs by more than this are not a pair: a real interference is thousands of times less. */
const COMMON_RADIUS_TOLERANCE = 0.01;
const MAX_RINGS = 6;

/**
 * Press fit of two, three or more concentric rings of any materials by Lamé's equations (plane stress, linear elastic).
 * Formula: ring a <= r <= b under pressures p_i, p_o:
 * u(r) = r / (E (b^2 - a^2)) * ((1 - nu) (p_i a^2 - p_o b^2) + (1 + nu) a^2 b^2 (p_i - p_o) / r^2);
 * at each interface: u of the outer part - u of the inner part = radial interference, or pressure 0 and a gap.
 *
 * @param rings - FitRing[n], 2 <= n <= 6, inside out, neighbours with a common radius (to 1 %); mm, GPa
 * @param interferences - n - 1 values, inside out, mm
 * @returns pressures MPa, displacements mm and tangential stresses MPa of every ring
 * @throws CoreError too-few-values, length-mismatch, not-finite; out-of-range for a wall, modulus or ratio that cannot be, and
 * for neighbours without a common radius
 * Method: linear in the pressures, all interfaces at once; every set of closed interfaces is tried and the one without tension
 * and without overlap is unique
 * Accuracy: published and computed cases of tests/reference/press-fit.json to their digits; an independent formulation by the
 * constants of u = A r + B / r to 10 digits
 * Edge cases: clearance everywhere -> pressures 0; an inner clearance can be closed by an outer interference
 * Source: Lamé 1833; T. H. Brown, Marks' Calculations for Machine Design, chapter 3
 */
export function pressFit(rings: readonly FitRing[], interferences: FitInterferences): PressFit {
  assertRings(rings);
  const count = rings.length - 1;
  const { valuesMm, measure } = interferences;
  if (valuesMm.length !== count)
    throw new CoreError(
      "length-mismatch",
      `pressFit: interferences must have one value less than rings; got ${valuesMm.length}`,
    );
  valuesMm.forEach((value, index) => {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `pressFit: interferences must be finite; got ${value} (at index ${index})`, {
        index,
      });
  });
  const radial = valuesMm.map((value) => (measure === "diametral" ? value / 2 : value));
  const pressures = solvePressures(rings.map(compliance), radial);
  return {
    pressuresMpa: pressures,
    rings: rings.map((ring, k) => ringState(ring, pressures[k - 1] ?? 0, pressures[k] ?? 0)),
  };
}

/** Radial displacements per MPa: of the inner radius and of the outer radius, under pressure inside and outside. */
type Compliance = { innerByInner: number; innerByOuter: number; outerByInner: number; outerByOuter: number };

function compliance({ innerRadiusMm: a, outerRadiusMm: b, youngsModulusGpa, poissonsRatio: nu }: FitRing): Compliance {
  const modulus = youngsModulusGpa * 1000;
  if (b === Infinity)
    return { innerByInner: (a * (1 + nu)) / modulus, innerByOuter: 0, outerByInner: 0, outerByOuter: 0 };
  const ratio = (a / b) ** 2;
  const stiff = modulus * (1 - ratio);
  return {
    innerByInner: (a * ((1 - nu) * ratio + (1 + nu))) / stiff,
    innerByOuter: (-2 * a) / stiff,
    outerByInner: (2 * b * ratio) / stiff,
    outerByOuter: (-b * (1 - nu + (1 + nu) * ratio)) / stiff,
  };
}

function solvePressures(parts: readonly Compliance[], radial: readonly number[]): number[] {
  const count = radial.length;
  // overlap_k = radial_k - sum_j stiffness[k][j] p_j is 0 where the interface is closed and <= 0 where it is open.
  const matrix = radial.map((_, k) =>
    radial.map((__, j) => {
      if (j === k) return parts[k + 1]!.innerByInner - parts[k]!.outerByOuter;
      if (j === k + 1) return parts[k + 1]!.innerByOuter;
      return j === k - 1 ? -parts[k]!.outerByInner : 0;
    }),
  );
  const scale = Math.max(...radial.map(Math.abs));
  for (let closed = (1 << count) - 1; closed >= 0; closed--) {
    const set = radial.map((_, k) => k).filter((k) => (closed >> k) & 1);
    const pressures = solveClosed(matrix, radial, set);
    const fits = radial.every((value, k) => {
      if (set.includes(k)) return pressures[k]! >= 0;
      const overlap = value - matrix[k]!.reduce((sum, m, j) => sum + m * pressures[j]!, 0);
      return overlap <= 1e-14 * scale;
    });
    if (fits) return pressures;
  }
  throw new CoreError("not-converged", "pressFit: no state of the interfaces is free of tension and overlap");
}

/** Pressures of the closed interfaces by Gauss elimination; the matrix is diagonally dominant in effect, pivots are > 0. */
function solveClosed(
  matrix: readonly (readonly number[])[],
  radial: readonly number[],
  set: readonly number[],
): number[] {
  const rows = set.map((k) => [...set.map((j) => matrix[k]![j]!), radial[k]!]);
  const n = set.length;
  for (let c = 0; c < n; c++)
    for (let r = c + 1; r < n; r++) {
      const factor = rows[r]![c]! / rows[c]![c]!;
      for (let k = c; k <= n; k++) rows[r]![k] = rows[r]![k]! - factor * rows[c]![k]!;
    }
  const pressures = radial.map(() => 0);
  for (let r = n - 1; r >= 0; r--) {
    let sum = rows[r]![n]!;
    for (let k = r + 1; k < n; k++) sum -= rows[r]![k]! * pressures[set[k]!]!;
    pressures[set[r]!] = sum / rows[r]![r]!;
  }
  return pressures;
}

function ringState(ring: FitRing, inside: number, outside: number): RingState {
  const { innerRadiusMm: a, outerRadiusMm: b } = ring;
  const c = compliance(ring);
  const ratio = b === Infinity ? 0 : (a / b) ** 2;
  // A solid member is under even pressure: both principal stresses are -outside everywhere.
  const innerHoop = a === 0 ? -outside : (inside * (1 + ratio) - 2 * outside) / (1 - ratio);
  const outerHoop = b === Infinity ? 0 : (2 * inside * ratio - outside * (1 + ratio)) / (1 - ratio);
  return {
    innerDisplacementMm: c.innerByInner * inside + c.innerByOuter * outside,
    outerDisplacementMm: c.outerByInner * inside + c.outerByOuter * outside,
    innerHoopStressMpa: innerHoop,
    outerHoopStressMpa: outerHoop,
  };
}

function assertRings(rings: readonly FitRing[]): void {
  if (rings.length < 2)
    throw new CoreError("too-few-values", `pressFit: rings must be at least 2; got ${rings.length}`, {
      count: rings.length,
    });
  if (rings.length > MAX_RINGS)
    throw new CoreError("out-of-range", `pressFit: rings must be at most ${MAX_RINGS}; got ${rings.length}`);
  rings.forEach((ring, index) => {
    const { innerRadiusMm, outerRadiusMm, youngsModulusGpa, poissonsRatio } = ring;
    const last = index === rings.length - 1;
    if (![innerRadiusMm, youngsModulusGpa, poissonsRatio].every(Number.isFinite) || Number.isNaN(outerRadiusMm))
      throw new CoreError("not-finite", `pressFit: rings must be finite (at index ${index})`, { index });
    if (innerRadiusMm < 0 || (innerRadiusMm === 0 && index > 0) || !(outerRadiusMm > innerRadiusMm))
      throw new CoreError(
        "out-of-range",
        `pressFit: a ring must have a wall: 0 <= innerRadiusMm < outerRadiusMm; got ${innerRadiusMm} and ${outerRadiusMm} (at index ${index})`,
        { index },
      );
    if (outerRadiusMm === Infinity && !last)
      throw new CoreError(
        "out-of-range",
        `pressFit: only the last ring may be endless; got Infinity (at index ${index})`,
      );
    if (!(youngsModulusGpa > 0) || !(poissonsRatio > -1 && poissonsRatio <= 0.5))
      throw new CoreError(
        "out-of-range",
        `pressFit: youngsModulusGpa must be > 0 and poissonsRatio in (-1, 0.5]; got ${youngsModulusGpa} and ${poissonsRatio} (at index ${index})`,
        { index },
      );
    const next = rings[index + 1];
    if (next && !(Math.abs(next.innerRadiusMm - outerRadiusMm) <= COMMON_RADIUS_TOLERANCE * outerRadiusMm))
      throw new CoreError(
        "out-of-range",
        `pressFit: neighbours must have a common radius; got ${outerRadiusMm} and ${next.innerRadiusMm} (at index ${index})`,
        { index },
      );
  });
}
