import { binomialCdf } from "../distributions/binomial";
import { hypergeometricCdf } from "../distributions/hypergeometric";
import { noncentralTSf } from "../distributions/noncentral-t";
import { normalCdf, normalUpperQuantile } from "../distributions/normal";
import { poissonCdf } from "../distributions/poisson";
import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";

/** A plan whose operating characteristic is asked for; `lot` is finite. */
export type PlanInUse =
  | { readonly by: "count"; readonly lot: number; readonly n: number; readonly ac: number }
  /** Nonconformities per item, of which one item may have several. */
  | { readonly by: "nonconformities"; readonly lot: number; readonly n: number; readonly ac: number }
  | { readonly by: "s" | "sigma"; readonly lot: number; readonly n: number; readonly k: number };

/**
 * Probability that a lot is accepted.
 * @param p - fraction nonconforming of the lot (nonconformities per item for `nonconformities`), 0 to 1; any number >= 0 for the latter
 * @returns probability: hypergeometric for counts, and between two whole numbers of nonconforming items on the straight line between
 *   theirs; Poisson for nonconformities; noncentral t for the s method; normal for the sigma method, whose lot counts as endless
 * @throws CoreError out-of-range
 * Source: ISO 2859-1:1999 clause 12 and tables 10 (there binomial and Poisson, for the process; of one lot it is the hypergeometric);
 *   s method: Lieberman & Resnikoff 1955, JASA 50, 457-516, P(T <= -k sqrt n) with n - 1 degrees of freedom
 */
export function acceptanceProbability(plan: PlanInUse, p: number): number {
  if (!(p >= 0 && (p <= 1 || (plan.by === "nonconformities" && Number.isFinite(p)))))
    throw new CoreError("out-of-range", `acceptanceProbability: p must be from 0 to 1; got ${p}`);
  if (plan.by === "nonconformities") return p === 0 ? 1 : poissonCdf(plan.ac, plan.n * p);
  if (plan.by === "count") return countedProbability(plan, p);
  if (p === 0 || p === 1) return 1 - p;
  const root = Math.sqrt(plan.n);
  const z = normalUpperQuantile(p);
  if (plan.by === "sigma") return normalCdf((z - plan.k) * root);
  return noncentralTSf(plan.k * root, { df: plan.n - 1, delta: z * root });
}

function countedProbability({ lot, n, ac }: { lot: number; n: number; ac: number }, p: number): number {
  const marked = p * lot;
  const nearest = Math.round(marked);
  const at = (count: number): number => hypergeometricCdf(ac, { lotSize: lot, marked: count, drawn: n });
  // A fraction like 0.07 times the lot is a whole number but for the last digits of a double.
  if (Math.abs(marked - nearest) <= 1e-9 * Math.max(1, marked)) return at(nearest);
  const below = Math.floor(marked);
  const share = marked - below;
  return (1 - share) * at(below) + share * at(below + 1);
}

/** The same for an endless series of lots of a process with that fraction: binomial. Null where counts are not what decides. */
export function seriesProbability(plan: PlanInUse, p: number): number | null {
  return plan.by === "count" ? binomialCdf(plan.ac, { n: plan.n, p }) : null;
}

/**
 * Quality that is accepted with a given probability.
 * @param probability - in (0, 1)
 * @returns p with acceptanceProbability(plan, p) = probability
 * @throws CoreError out-of-range
 */
export function qualityAt(plan: PlanInUse, probability: number): number {
  if (!(probability > 0 && probability < 1))
    throw new CoreError("out-of-range", `qualityAt: probability must be in (0, 1); got ${probability}`);
  const most = plan.by === "nonconformities" ? (10 * (plan.ac + 10)) / plan.n : 1;
  return brentRoot((p) => acceptanceProbability(plan, p) - probability, 0, most, 1e-12);
}

/**
 * Average outgoing quality where refused lots are inspected whole and their nonconforming items replaced.
 * @returns fraction, p Pa (N - n) / N
 * Source: Dodge & Romig 1941; ISO 2859-1:1999 clause 12.5
 */
export function outgoingQuality(plan: PlanInUse, p: number): number {
  return (p * acceptanceProbability(plan, p) * (plan.lot - plan.n)) / plan.lot;
}

/** Average outgoing quality limit: the largest average outgoing quality, and the incoming quality where it lies. */
export function outgoingQualityLimit(plan: PlanInUse): { readonly p: number; readonly aoq: number } {
  if (plan.n >= plan.lot) return { p: 0, aoq: 0 };
  const most = qualityAt(plan, 1e-4);
  let best = { p: 0, aoq: 0 };
  let [low, high] = [0, most];
  // Each pass looks closer around the best of the one before; counts have one maximum, with small steps of the straight lines.
  for (let pass = 0; pass < 4; pass += 1) {
    const step = (high - low) / 100;
    for (let at = 0; at <= 100; at += 1) {
      const p = low + at * step;
      const aoq = outgoingQuality(plan, p);
      if (aoq > best.aoq) best = { p, aoq };
    }
    [low, high] = [Math.max(0, best.p - 2 * step), Math.min(most, best.p + 2 * step)];
  }
  return best;
}
