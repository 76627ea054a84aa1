import { CoreError } from "../errors";
import { leastSquaresFactors } from "../numerics/least-squares";
import { residualLimit } from "./residual-limit";
import { SWEEP_NOISE_UM, sweepOrder } from "./sweep-harmonics";

/** What one slip of the indicator or one wrong reading would have done to a sweep. */
export type SweepExplanation = {
  /** "reading": the one at `place` is wrong. "slip": the indicator shifted before the one at `place`. */
  readonly kind: "reading" | "slip";
  readonly place: number;
  /** How far the reading is off, or the indicator slipped, µm. */
  readonly byUm: number;
  /** What this took the centre off by, towards 12 and towards 3 o'clock, µm: centre = as fitted - this. */
  readonly centreUm: readonly [towards12: number, towards3: number];
};

/** Residuals of one sweep against the budget. */
export type SweepRegularity = {
  /** 0 where the angles leave nothing to test. */
  readonly degreesOfFreedom: number;
  readonly residualSdUm: number;
  /** What the budget allows for one reading: noise, the lobes of a sound seat and the step of the readings, µm. */
  readonly budgetUm: number;
  /** The residuals are larger than the budget allows in 0.001 % of sweeps. */
  readonly isIrregular: boolean;
  /** Single causes with which the rest is regular; empty for a regular sweep. */
  readonly explanations: readonly SweepExplanation[];
};

export type RegularityOptions = {
  /** Step in which the readings were keyed, µm. */
  readonly stepUm?: number;
  /** Oval of the same section as its diameters give it: components of the radius at 2 phi, µm, with their error. */
  readonly oval?: { readonly cosUm: number; readonly sinUm: number; readonly errorUm: number } | null;
};

/**
 * What the lobes of a sound seat add to the scatter of one reading beyond offset and oval, µm (invented for the demonstration, as
 * the noise): form that harms nothing must not send a sweep back.
 */
export const SOUND_LOBES_UM = 0.8;

/** A column that is this little of its own beside the fitted ones says nothing. */
const OWN_SHARE_MIN = 1e-9;

/**
 * Orders that count as form of the seat in the test: those that the sweep fits, and the oval, which every seat may have. Where
 * the angles do not leave room for the oval, it is taken off as the diameters give it.
 */
function designOf(anglesDeg: readonly number[], hasOval: boolean) {
  const k = anglesDeg.length;
  const fitted = sweepOrder(k);
  const highest = fitted > 1 || hasOval ? fitted : k > 5 ? 2 : null;
  if (highest === null) return null;
  const cols = 1 + 2 * highest;
  if (k <= cols) return null;
  const data = new Float64Array(k * cols);
  anglesDeg.forEach((angle, i) => {
    data[i * cols] = 1;
    for (let order = 1; order <= highest; order += 1) {
      data[i * cols + 2 * order - 1] = Math.cos((order * angle * Math.PI) / 180);
      data[i * cols + 2 * order] = Math.sin((order * angle * Math.PI) / 180);
    }
  });
  const factors = leastSquaresFactors({ rows: k, cols, data });
  return factors.ok ? { k, cols, data, inverse: factors.value.inverse.data, takesOval: highest < 2 } : null;
}

type Design = NonNullable<ReturnType<typeof designOf>>;

/** Designs by their angles: the same for every frame of a plan. Emptied when full, as angles may come from anywhere. */
const designs = new Map<string, Design | null>();
const DESIGNS_MAX = 256;

function knownDesign(anglesDeg: readonly number[], hasOval: boolean): Design | null {
  const key = `${hasOval} ${anglesDeg.join(" ")}`;
  const known = designs.get(key);
  if (known !== undefined) return known;
  if (designs.size >= DESIGNS_MAX) designs.clear();
  const design = designOf(anglesDeg, hasOval);
  designs.set(key, design);
  return design;
}

function coefficientsOf({ k, cols, inverse }: Design, values: Float64Array): Float64Array {
  const coefficients = new Float64Array(cols);
  for (let j = 0; j < cols; j += 1) for (let i = 0; i < k; i += 1) coefficients[j]! += inverse[j * k + i]! * values[i]!;
  return coefficients;
}

function residualsOf(design: Design, values: Float64Array): Float64Array {
  const { k, cols, data } = design;
  const coefficients = coefficientsOf(design, values);
  const residuals = Float64Array.from(values);
  for (let i = 0; i < k; i += 1)
    for (let j = 0; j < cols; j += 1) residuals[i]! -= data[i * cols + j]! * coefficients[j]!;
  return residuals;
}

function squares(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value * value, 0);
}

/** The single wrong reading or slip of a shape, if the rest is regular without it. */
function explain(
  design: Design,
  residuals: Float64Array,
  shape: Float64Array,
  variance: number,
): Pick<SweepExplanation, "byUm" | "centreUm"> | null {
  const freedom = design.k - design.cols;
  const own = squares(residualsOf(design, shape));
  if (own < OWN_SHARE_MIN * squares(shape)) return null;
  const along = shape.reduce((sum, value, i) => sum + value * residuals[i]!, 0);
  const rest = squares(residuals) - (along * along) / own;
  if (freedom > 1 && rest > variance * residualLimit(freedom - 1)) return null;
  const byUm = along / own;
  const [, towards12 = 0, towards3 = 0] = coefficientsOf(design, shape);
  return { byUm, centreUm: [byUm * towards12, byUm * towards3] };
}

function explanations(design: Design, residuals: Float64Array, variance: number): SweepExplanation[] {
  const { k } = design;
  return Array.from({ length: k }, (_, place) => place).flatMap((place): SweepExplanation[] => {
    const alone = Float64Array.from({ length: k }, (_, i) => (i === place ? 1 : 0));
    const after = Float64Array.from({ length: k }, (_, i) => (i >= place ? 1 : 0));
    const reading = explain(design, residuals, alone, variance);
    const slip = place === 0 ? null : explain(design, residuals, after, variance);
    return [
      ...(reading === null ? [] : [{ kind: "reading" as const, place, ...reading }]),
      ...(slip === null ? [] : [{ kind: "slip" as const, place, ...slip }]),
    ];
  });
}

/**
 * Tests the residuals of one indicator sweep against the noise budget: larger than chance gives in 0.001 % of
 * sweeps, the indicator slipped, a reading is wrong, or the seat has lobes that the sweep does not fit.
 *
 * @param anglesDeg - number[k], degrees in [0, 360), distinct, in the order in which they were read, without the closing reading
 * @param readingsUm - number[k], µm, finite
 * @returns what the residuals say. Angles that leave no freedom beside mean, offset and oval test nothing: fewer than six
 *   without the diameters' oval, fewer than four with it
 * @throws CoreError length-mismatch; not-finite
 * Source: chi-square test of a known variance, NIST/SEMATECH e-Handbook 1.3.5.8; level and budget invented for the demonstration.
 */
export function sweepRegularity(
  anglesDeg: readonly number[],
  readingsUm: readonly number[],
  { stepUm = 0, oval = null }: RegularityOptions = {},
): SweepRegularity {
  if (anglesDeg.length !== readingsUm.length)
    throw new CoreError(
      "length-mismatch",
      `sweepRegularity: readingsUm must be as many as anglesDeg; got ${readingsUm.length} for ${anglesDeg.length}`,
    );
  if (!anglesDeg.every(Number.isFinite) || !readingsUm.every(Number.isFinite))
    throw new CoreError("not-finite", "sweepRegularity: angles and readings must be finite");
  const budgetUm = Math.hypot(SWEEP_NOISE_UM, SOUND_LOBES_UM, stepUm / Math.sqrt(12));
  const design = anglesDeg.length < 4 ? null : knownDesign(anglesDeg, oval !== null);
  if (design === null) return { degreesOfFreedom: 0, residualSdUm: 0, budgetUm, isIrregular: false, explanations: [] };
  const takesOval = design.takesOval && oval !== null;
  const zero = readingsUm[0] ?? 0;
  const values = Float64Array.from(readingsUm, (reading, i) => {
    const angle = (2 * (anglesDeg[i] ?? 0) * Math.PI) / 180;
    return reading - zero - (takesOval ? oval.cosUm * Math.cos(angle) + oval.sinUm * Math.sin(angle) : 0);
  });
  const residuals = residualsOf(design, values);
  const degreesOfFreedom = design.k - design.cols;
  const variance = budgetUm ** 2 + (takesOval ? (anglesDeg.length * oval.errorUm ** 2) / degreesOfFreedom : 0);
  const sum = squares(residuals);
  const isIrregular = sum > variance * residualLimit(degreesOfFreedom);
  return {
    degreesOfFreedom,
    residualSdUm: Math.sqrt(sum / degreesOfFreedom),
    budgetUm: Math.sqrt(variance),
    isIrregular,
    explanations: isIrregular ? explanations(design, residuals, variance) : [],
  };
}
