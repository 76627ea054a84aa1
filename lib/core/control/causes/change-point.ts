import { fisherFQuantile, fisherFSf } from "../../distributions/fisher-f";
import { CoreError, type Estimate } from "../../errors";
import { assertAllFinite } from "../charts/chart-signals";
import { average, isRoundingNoise } from "../charts/point-statistics";

/** step: the mean jumps and stays. drift: from a point on the mean moves along a straight line. */
export type ChangeKind = "step" | "drift";

export type ChangePoint = Readonly<{
  kind: ChangeKind;
  /** Index of the last value before the change. */
  lastBefore: number;
  /** Mean before the change. */
  before: number;
  /** Mean after a step; for a drift the mean at the last value. */
  after: number;
  /** Change a value along a drift; 0 for a step. */
  slope: number;
  /** Residual standard deviation about the changing mean. */
  sigma: number;
  /** Largest F statistic (1 and n - 2 degrees of freedom) over all places, and the bound on its p value. */
  statistic: number;
  pValue: number;
  significant: boolean;
  /** Indices that lastBefore may have at the stated confidence, ascending. */
  confidenceSet: readonly number[];
  confidence: number;
  /** Sums of squares without and with the change. */
  residualsWithout: number;
  residualsWith: number;
}>;

export type ChangePointOptions = Readonly<{
  /** Kinds that are tried; the better one is given, its p value for the choice. Both by default. */
  kinds?: readonly ChangeKind[];
  /** Fewest values on either side, >= 1; 2 by default. */
  minimumSegment?: number;
  /** Confidence of the set and 1 - level of the test, in (0, 1); 0.95 by default. */
  confidence?: number;
}>;

/**
 * Most likely place of one change of the mean, as a step or as the begin of a linear drift.
 * Formula: for each place k the least squares fit of mean + change * g_k(i), g = 1 or i - k after k; F_k = (RSS_0 - RSS_k)
 * / (RSS_k / (n - 2)); the place with the largest F is the likelihood estimate.
 *
 * @param values - number[n], n >= 6, all finite, in the order of time
 * @param options - see ChangePointOptions
 * @returns the change with its significance and confidence set; ok: false with a reason for too few values or no variation
 * @throws CoreError not-finite, out-of-range, invalid-argument if no kind is asked for
 * Method: prefix sums about the mean, one pass for each kind. The p value is the bound by the volume of a tube about the
 *   curve that the regressors draw on the sphere: exact in the tail, with sigma unknown, never too small. The set holds the
 *   places whose likelihood ratio against the best stays below its quantile: -2 ln(1 - sqrt(confidence)) for a step, F for
 *   the smooth likelihood of a drift.
 * Accuracy: the published digits of tests/reference/nile-change-point.json; coverage in change-point.test.ts
 * Edge cases: values are taken as independent; autocorrelation makes p too small (autocorrelationEffect warns)
 * Source: Hawkins 1977, Journal of the American Statistical Association 72 180-186; p: Hotelling 1939, American Journal of
 *   Mathematics 61 440-460, Knowles and Siegmund 1989, International Statistical Review 57 205-220; set: Hansen 2000,
 *   Econometrica 68 575-603
 */
export function changePoint(values: readonly number[], options: ChangePointOptions = {}): Estimate<ChangePoint> {
  const { kinds = ["step", "drift"], minimumSegment = 2, confidence = 0.95 } = options;
  const name = "changePoint";
  assertAllFinite(name, values);
  if (!(confidence > 0 && confidence < 1) || !Number.isInteger(minimumSegment) || minimumSegment < 1) {
    throw new CoreError("out-of-range", `${name}: confidence must be in (0, 1), minimumSegment an integer >= 1`, {
      confidence,
      minimumSegment,
    });
  }
  if (kinds.length === 0) throw new CoreError("invalid-argument", `${name}: kinds must have at least 1 kind; got 0`);
  const n = values.length;
  if (n < Math.max(6, 2 * minimumSegment)) {
    return {
      ok: false,
      reason: `A change point needs at least ${Math.max(6, 2 * minimumSegment)} values; there are ${n}.`,
    };
  }
  // From the first value, so that an offset of 1e9 costs no more than the digits that the values themselves lost.
  const origin = values[0]!;
  const shifted = values.map((value) => value - origin);
  const mean = average(shifted);
  const deviations = shifted.map((value) => value - mean);
  const total = deviations.reduce((sum, deviation) => sum + deviation * deviation, 0);
  if (isRoundingNoise(Math.sqrt(total / n), values)) {
    return { ok: false, reason: "All values are equal: nothing has changed." };
  }
  const fits = [...new Set(kinds)].map((kind) => bestFit(kind, deviations, total, minimumSegment));
  const best = fits.reduce((better, fit) => (fit.explained > better.explained ? fit : better));
  const residual = Math.max(0, total - best.explained);
  if (isRoundingNoise(Math.sqrt(residual / n), deviations)) {
    return {
      ok: false,
      reason: "The values follow the change without any variation, so its place has no uncertainty to state.",
    };
  }
  const statistic = best.explained / (residual / (n - 2));
  const pValue = Math.min(1, fits.length * tubeBound(statistic, best.curve, n));
  const threshold =
    best.kind === "step" ? -2 * Math.log(1 - Math.sqrt(confidence)) : fisherFQuantile(confidence, [1, n - 2]);
  const confidenceSet = best.places
    .filter(({ explained }) => (best.explained - explained) / (residual / (n - 2)) <= threshold)
    .map(({ last }) => last);
  const { last, level, change } = best;
  return {
    ok: true,
    value: {
      kind: best.kind,
      lastBefore: last,
      before: origin + (mean + level),
      after: origin + (mean + level) + (best.kind === "step" ? change : change * (n - 1 - last)),
      slope: best.kind === "step" ? 0 : change,
      sigma: Math.sqrt(residual / (n - 2)),
      statistic,
      pValue,
      significant: pValue <= 1 - confidence,
      confidenceSet,
      confidence,
      residualsWithout: total,
      residualsWith: residual,
    },
    warnings: [],
  };
}

type Place = { last: number; explained: number };
type Fit = Place & { kind: ChangeKind; level: number; change: number; places: Place[]; curve: number };

/** Best place of one kind, the sums of squares it explains at every place, and the length of the regressors' curve. */
function bestFit(kind: ChangeKind, deviations: readonly number[], total: number, segment: number): Fit {
  const n = deviations.length;
  const places: Place[] = [];
  let best = { last: segment - 1, explained: -1, level: 0, change: 0 };
  let curve = 0;
  // Sums over the values after `last`, grown from the end: of deviations, and of deviations times distance.
  let sum = 0;
  let moment = 0;
  for (let last = n - 2; last >= segment - 1; last--) {
    sum += deviations[last + 1]!;
    moment += sum;
    const after = n - 1 - last;
    if (after < segment) continue;
    const { square, mean } = regressor(kind, after, n);
    const product = kind === "step" ? sum : moment;
    const explained = (product * product) / square;
    places.push({ last, explained });
    if (explained > best.explained) {
      const change = product / square;
      best = { last, explained, level: -change * mean, change };
    }
    if (after > segment) curve += Math.acos(Math.min(1, neighbourCorrelation(kind, after, n)));
  }
  return { kind, ...best, explained: Math.min(best.explained, total), places: places.reverse(), curve };
}

/** Sum of squares about its mean, and mean, of the regressor with `after` values behind the change. */
function regressor(kind: ChangeKind, after: number, n: number) {
  if (kind === "step") return { square: (after * (n - after)) / n, mean: after / n };
  const sum = (after * (after + 1)) / 2;
  const squares = (sum * (2 * after + 1)) / 3;
  return { square: squares - (sum * sum) / n, mean: sum / n };
}

/** Correlation of the regressors with `after` and `after` - 1 values behind the change. */
function neighbourCorrelation(kind: ChangeKind, after: number, n: number): number {
  const larger = regressor(kind, after, n);
  const smaller = regressor(kind, after - 1, n);
  // Sum of the products: the smaller one squared, for a drift plus its own sum (each distance is one more).
  const product =
    kind === "step"
      ? after - 1 - n * larger.mean * smaller.mean
      : ((after - 1) * after * (2 * after - 1)) / 6 + ((after - 1) * after) / 2 - n * larger.mean * smaller.mean;
  return product / Math.sqrt(larger.square * smaller.square);
}

/** Bound on the p value of the largest F along a curve of given length on the sphere of n - 1 dimensions. */
function tubeBound(statistic: number, curve: number, n: number): number {
  const outside = (n - 2) / (statistic + n - 2);
  return (curve / Math.PI) * outside ** ((n - 3) / 2) + fisherFSf(statistic, [1, n - 2]);
}
