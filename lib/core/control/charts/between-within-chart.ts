import type { ChartEstimate, ChartEstimates } from "./chart-result";
import { individualsChart } from "./individuals-chart";
import { meanChart, type MeanChartOptions } from "./mean-chart";

export type BetweenWithinOptions = Omit<MeanChartOptions, "mean" | "sigma"> &
  Readonly<{
    /** Given centre of the means and given sigma of a mean, for phase II. */
    mean?: number;
    sigmaOfMeans?: number;
    /** Given sigma of one reading within a part. */
    sigmaWithin?: number;
  }>;

/**
 * Three charts for several readings of one part: individuals of the parts' means, their moving range, and the spread
 * within the part. The readings of one bore are no rational subgroup: the variation between parts sets the limits.
 * Formula: sigma_means = MRbar / d2(2); sigma_between^2 = max(0, sigma_means^2 - sigma_within^2 / n);
 * sigma_total^2 = sigma_between^2 + sigma_within^2; n is the harmonic mean of the sizes where they differ.
 *
 * @param parts - arrays of readings, one a part, in the order of time, unit u, all finite, sizes >= 1
 * @param options - see BetweenWithinOptions
 * @returns main chart "individuals" (of means), companions "moving-range" and "range" or "standard-deviation";
 *   estimates.details sigmaWithin, sigmaOfMeans, sigmaBetween, sigmaTotal. ok: false with a reason if either sigma
 *   cannot be estimated
 * @throws CoreError as meanChart and individualsChart
 * Accuracy: 9 digits on tests/reference/between-within-shortrun.json
 * Source: Roes and Does 1995, Technometrics 37(1) 15-24; Montgomery, Introduction to Statistical Quality Control, 6.3
 */
export function betweenWithinChart(
  parts: readonly (readonly number[])[],
  options: BetweenWithinOptions = {},
): ChartEstimate {
  const { mean, sigmaOfMeans, sigmaWithin, ...rest } = options;
  const within = meanChart(parts, {
    ...rest,
    ...(sigmaWithin === undefined ? {} : { sigma: sigmaWithin }),
    rules: [],
  });
  if (!within.ok) return within;
  const means = within.value.main.values.map((value) => value!);
  const between = individualsChart(means, {
    ...(mean === undefined ? {} : { mean }),
    ...(sigmaOfMeans === undefined ? {} : { sigma: sigmaOfMeans }),
    ...(rest.rules === undefined ? {} : { rules: rest.rules }),
    ...(rest.excluded === undefined ? {} : { excluded: rest.excluded }),
    ...(rest.sigmas === undefined ? {} : { sigmas: rest.sigmas }),
    ...(rest.constants === undefined ? {} : { constants: rest.constants }),
  });
  if (!between.ok) return between;
  const sizes = within.value.main.sizes!;
  const readings = sizes.length / sizes.reduce((sum, n) => sum + 1 / n, 0);
  const sw = within.value.estimates.sigma;
  const sm = between.value.estimates.sigma;
  const variance = sm * sm - (sw * sw) / readings;
  const sigmaBetween = Math.sqrt(Math.max(0, variance));
  const warnings = [...between.warnings];
  if (variance < 0) {
    warnings.push(
      "Parts differ less than the readings within one part explain: variation between parts is set to zero.",
    );
  }
  const estimates: ChartEstimates = {
    ...between.value.estimates,
    details: {
      ...between.value.estimates.details,
      ...within.value.estimates.details,
      sigmaWithin: sw,
      sigmaOfMeans: sm,
      sigmaBetween,
      sigmaTotal: Math.hypot(sigmaBetween, sw),
    },
  };
  const main = { ...between.value.main, sizes, estimates, warnings };
  return {
    ok: true,
    value: { main, companions: [...between.value.companions, ...within.value.companions], estimates },
    warnings,
  };
}
