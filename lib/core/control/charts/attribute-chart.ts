import { CoreError } from "../../errors";
import { chartFactors, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartKind } from "./chart-result";
import { assertPositive, checkedExclusions, column } from "./chart-signals";
import { baselineWarnings, withSignals } from "./individuals-chart";
import { average, isRoundingNoise } from "./point-statistics";
import { LIMIT_TEST_ONLY, type RunRule } from "../rules/run-rules";

/** p, np: nonconforming units of a sample; c, u: nonconformities; p-prime: p corrected for overdispersion. */
export type AttributeKind = Extract<ChartKind, "p" | "np" | "c" | "u" | "p-prime">;

export type AttributeOptions = Readonly<{
  kind: AttributeKind;
  /** Sample sizes (p, np, p-prime: integers >= the counts) or areas of opportunity (u); one number for all, or one each. */
  sizes?: number | readonly number[];
  /** Given proportion (p, np, p-prime), mean count (c) or mean count a unit (u): a phase II chart. */
  centre?: number;
  /** Given overdispersion factor of a p-prime chart. */
  sigmaZ?: number;
  sigmas?: number;
  constants?: ConstantsChoice;
  rules?: readonly RunRule[];
  excluded?: readonly number[];
}>;

/**
 * Charts of counts: p, np, c, u and the overdispersion-corrected p'.
 * Formula: p: pbar -/+ 3 sqrt(pbar (1 - pbar) / n_i); np: n_i times that; c: cbar -/+ 3 sqrt(cbar);
 * u: ubar -/+ 3 sqrt(ubar / n_i); p': pbar -/+ 3 sigma_z sqrt(pbar (1 - pbar) / n_i), sigma_z = MRbar(z) / d2(2) of
 * z_i = (p_i - pbar) / sqrt(pbar (1 - pbar) / n_i). Limits below 0, or above the largest possible value, are cut there.
 *
 * @param counts - integers >= 0, one a sample, in the order of time
 * @param options - see AttributeOptions
 * @returns main chart of the kind asked for, without companions; estimates.details has z where p-prime. ok: false with a
 *   reason if nothing was found (or everything), so that there is no variation to set limits from
 * @throws CoreError out-of-range for counts or sizes outside their range, length-mismatch
 * Accuracy: the digits of tests/reference/control-charts.json
 * Edge cases: a point exactly on a limit does not signal
 * Source: Montgomery, Introduction to Statistical Quality Control, chapter 7; p': Laney 2002, Quality Engineering 14(4)
 *   531-537
 * @example attributeChart([4, 9], { kind: "c" }) // main.centre[0] = 6.5
 */
export function attributeChart(counts: readonly number[], options: AttributeOptions): ChartEstimate {
  const { kind, sigmas = 3, rules = LIMIT_TEST_ONLY } = options;
  const name = "attributeChart";
  assertPositive(name, "sigmas", sigmas);
  assertPositive(name, "sigmaZ", options.sigmaZ);
  const sizes = checkedSizes(name, counts, options);
  const excluded = checkedExclusions(name, options.excluded, counts.length);
  const leftOut = new Set(excluded);
  const kept = counts.map((_, index) => index).filter((index) => !leftOut.has(index));
  if (kept.length === 0) return { ok: false, reason: "There is no sample to chart." };
  const binomial = kind === "p" || kind === "np" || kind === "p-prime";
  if (options.centre !== undefined && !(options.centre > 0 && options.centre < (binomial ? 1 : Infinity))) {
    throw new CoreError("out-of-range", `${name}: centre must be above 0${binomial ? " and below 1" : ""}`, {
      centre: options.centre,
    });
  }
  const sum = (values: readonly number[]) => kept.reduce((total, index) => total + values[index]!, 0);
  const centre = options.centre ?? sum(counts) / sum(sizes);
  if (!(centre > 0) || (binomial && !(centre < 1))) {
    const what = centre > 0 ? "Every unit was nonconforming" : "Nothing was found in any sample";
    return {
      ok: false,
      reason: `${what}, so there is no variation to set limits from: give a centre or take larger samples.`,
    };
  }
  const sd = sizes.map((n) => Math.sqrt((binomial ? centre * (1 - centre) : centre) / n));
  const rates = counts.map((count, index) => count / sizes[index]!);
  const z = kept.map((index) => (rates[index]! - centre) / sd[index]!);
  const correction = kind === "p-prime" ? overdispersion(z, options) : { ok: true as const, value: 1 };
  if (!correction.ok) return correction;
  const sigmaZ = correction.value;
  // np and c plot counts, the others rates.
  const scale = sizes.map((n) => (kind === "np" || kind === "c" ? n : 1));
  const spread = sd.map((value, index) => sigmaZ * value * scale[index]!);
  const middle = scale.map((factor) => centre * factor);
  const given = options.centre !== undefined && (kind !== "p-prime" || options.sigmaZ !== undefined);
  const warnings = given ? [] : baselineWarnings(kept.length);
  const main = withSignals({
    kind,
    phase: given ? 2 : 1,
    values: rates.map((rate, index) => (scale[index] === 1 ? rate : counts[index]!)),
    sizes: kind === "c" ? null : sizes,
    centre: middle,
    lower: middle.map((value, index) => Math.max(0, value - sigmas * spread[index]!)),
    upper: middle.map((value, index) => {
      const limit = value + sigmas * spread[index]!;
      return binomial ? Math.min(limit, scale[index]!) : limit;
    }),
    sigma: spread,
    excluded,
    rules,
    estimates: {
      centre,
      sigma: average(spread),
      sigmaMethod:
        kind === "p-prime" ? "mean-moving-range of standardised proportions" : binomial ? "binomial" : "Poisson",
      count: kept.length,
      details: kind === "p-prime" ? { sigmaZ } : {},
    },
    warnings,
  });
  return { ok: true, value: { main, companions: [], estimates: main.estimates }, warnings };
}

function overdispersion(z: readonly number[], { sigmaZ, constants }: AttributeOptions) {
  if (sigmaZ !== undefined) return { ok: true as const, value: sigmaZ };
  if (z.length < 2) return { ok: false as const, reason: "Overdispersion needs at least two samples." };
  const ranges = z.slice(1).map((value, index) => Math.abs(value - z[index]!));
  const value = average(ranges) / chartFactors(2, constants).d2;
  if (isRoundingNoise(value, [1])) {
    return { ok: false as const, reason: "All proportions are equal, so there is no variation to set limits from." };
  }
  return { ok: true as const, value };
}

function checkedSizes(name: string, counts: readonly number[], { kind, sizes }: AttributeOptions): number[] {
  if (kind !== "c" && sizes === undefined) {
    throw new CoreError("invalid-argument", `${name}: sizes must be given for a ${kind} chart`);
  }
  const list = typeof sizes === "object" ? [...sizes] : column(counts.length, kind === "c" ? 1 : sizes!);
  if (list.length !== counts.length) {
    throw new CoreError("length-mismatch", `${name}: sizes must have ${counts.length} entries; got ${list.length}`);
  }
  const units = kind === "p" || kind === "np" || kind === "p-prime";
  counts.forEach((count, index) => {
    const size = list[index]!;
    assertPositive(name, "sizes", size);
    if (!Number.isInteger(count) || count < 0 || (units && count > size)) {
      throw new CoreError(
        "out-of-range",
        `${name}: counts must be integers from 0${units ? ` to the sample size ${size}` : ""}; got ${count} (at index ${index})`,
        { index },
      );
    }
  });
  return list;
}
