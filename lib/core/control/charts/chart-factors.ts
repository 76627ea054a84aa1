import { toDecimals } from "../../numerics/decimal-digits";
import { c4Constant, chartConstants } from "./chart-constants";

/** exact: from integrals. printed: rounded as the tables of the handbooks print them. */
export type ConstantsChoice = "exact" | "printed";

/** The factors a chart of subgroups of n values needs, in the chosen form. */
export type ChartFactors = Readonly<{
  d2: number;
  d3: number;
  d4: number;
  c4: number;
  c5: number;
  /** Upper and lower factor on the mean range, at `sigmas` standard deviations. */
  D3: number;
  D4: number;
  /** Lower and upper factor on the mean standard deviation. */
  B3: number;
  B4: number;
  /** Factor on the mean range and on the mean standard deviation for limits of means. */
  A2: number;
  A3: number;
}>;

const rounded = (value: number, decimals: number) => toDecimals(value, decimals);

/** Where the tables print another digit than the exact value rounds to, since they were made from rounded d2 and d3. */
const PRINTED: Readonly<Record<number, Partial<Pick<ChartFactors, "d3" | "D3" | "D4">>>> = {
  3: { D4: 2.574 },
  18: { D4: 1.608 },
  19: { d3: 0.734, D3: 0.403, D4: 1.597 },
  22: { D3: 0.434, D4: 1.566 },
  24: { D3: 0.451 },
};

/**
 * Chart factors for subgroups of n, exact or as printed, for limits at any multiple of sigma.
 *
 * @param n - subgroup size, integer 2..100
 * @param choice - exact, or printed: three decimals, c4 four
 * @param sigmas - multiple of the standard deviation at which limits lie, 3 in all tables
 * @throws CoreError out-of-range if n is not an integer 2..100
 * Source: ASTM E2587 table of factors; Montgomery, Introduction to Statistical Quality Control, appendix VI
 */
export function chartFactors(n: number, choice: ConstantsChoice = "exact", sigmas = 3): ChartFactors {
  const { d2, d3, d4, c4, c5 } = chartConstants(n);
  const printed = choice === "printed";
  const base = printed
    ? { d2: rounded(d2, 3), d3: rounded(d3, 3), d4: rounded(d4, 3), c4: rounded(c4, 4), c5: rounded(c5, 4) }
    : { d2, d3, d4, c4, c5 };
  const round = (value: number) => (printed ? rounded(value, 3) : value);
  const { d3: tabledD3, ...tabledLimits } = (printed ? PRINTED[n] : undefined) ?? {};
  return {
    ...base,
    D3: round(Math.max(0, 1 - (sigmas * d3) / d2)),
    D4: round(1 + (sigmas * d3) / d2),
    B3: round(Math.max(0, 1 - (sigmas * c5) / c4)),
    B4: round(1 + (sigmas * c5) / c4),
    A2: round(sigmas / (d2 * Math.sqrt(n))),
    A3: round(sigmas / (c4 * Math.sqrt(n))),
    ...(tabledD3 === undefined ? {} : { d3: tabledD3 }),
    ...(sigmas === 3 ? tabledLimits : {}),
  };
}

/** c4 in the chosen form, for any n >= 2 (pooled degrees of freedom may exceed the tables). */
export function c4Factor(n: number, choice: ConstantsChoice): number {
  return choice === "printed" ? rounded(c4Constant(n), 4) : c4Constant(n);
}
