import { isRoundingNoise } from "../control/charts/point-statistics";
import { fisherFUpperQuantile } from "../distributions/fisher-f";
import type { CrossedLayout } from "./crossed-layout";

/** Two parts whose readings look exchanged where one inspector measured them. */
export type ExchangedParts = Readonly<{
  parts: readonly [string, string];
  inspector: string;
  /** The one trial concerned; null for all trials of the inspector. */
  trial: string | null;
}>;

/** Chance that a study without an exchange is told one. */
const LEVEL = 0.001;
/** More parts than this are not looked through: pairs grow with the square. */
const MOST_PARTS = 200;

/**
 * Looks for two parts that were measured under each other's number: the exchange that takes most from the residuals of part and
 * inspector, if it takes more than chance would over all possible exchanges.
 * Formula: F = (SS before - SS after) / (SS after / df) against the upper LEVEL / (number of exchanges) point of F(1, df)
 *
 * @param layout - a complete study
 * @returns the exchange, or null
 * Method: residuals of the additive model; an exchange is one direction in their space, so that F bounds what it can take
 * Source: outlier test with Bonferroni's bound; Cook and Weisberg, Residuals and Influence in Regression, 1982, 2.2.2
 */
export function exchangedParts({ parts, inspectors, trials, values }: CrossedLayout): ExchangedParts | null {
  const [p, o, r] = [parts.length, inspectors.length, trials.length];
  const degrees = p * o * r - p - o + 1;
  if (p > MOST_PARTS || p < 3) return null;
  const y = values.map((value) => value - values[0]!);
  const at = (part: number, inspector: number, trial: number) => (part * o + inspector) * r + trial;
  const mean = y.reduce((sum, each) => sum + each, 0) / y.length;
  const partMean = new Float64Array(p);
  const inspectorMean = new Float64Array(o);
  y.forEach((value, place) => {
    const cell = Math.floor(place / r);
    partMean[Math.floor(cell / o)]! += value / (o * r);
    inspectorMean[cell % o]! += value / (p * r);
  });
  const residuals = y.map((value, place) => {
    const cell = Math.floor(place / r);
    return value - partMean[Math.floor(cell / o)]! - inspectorMean[cell % o]! + mean;
  });
  const before = residuals.reduce((sum, each) => sum + each * each, 0);
  if (isRoundingNoise(Math.sqrt(before / y.length), values)) return null;
  const whole = trials.map((_, trial) => trial);
  const choices = [whole, ...whole.map((trial) => [trial])];
  let best = { gain: 0, found: null as ExchangedParts | null };
  for (let inspector = 0; inspector < o; inspector++)
    for (let one = 0; one < p; one++)
      for (let other = one + 1; other < p; other++)
        for (const chosen of choices) {
          let [cross, square, sum] = [0, 0, 0];
          for (const trial of chosen) {
            const [i, j] = [at(one, inspector, trial), at(other, inspector, trial)];
            const step = y[j]! - y[i]!;
            cross += step * (residuals[i]! - residuals[j]!);
            square += step * step;
            sum += step;
          }
          const gain = -2 * cross - 2 * square + (2 * sum * sum) / (o * r);
          if (gain > best.gain)
            best = {
              gain,
              found: {
                parts: [parts[one]!, parts[other]!],
                inspector: inspectors[inspector]!,
                trial: chosen.length === 1 ? trials[chosen[0]!]! : null,
              },
            };
        }
  const exchanges = ((o * p * (p - 1)) / 2) * choices.length;
  const after = Math.max(0, before - best.gain);
  const limit = fisherFUpperQuantile(LEVEL / exchanges, [1, degrees]);
  return best.gain > (limit * after) / degrees ? best.found : null;
}
