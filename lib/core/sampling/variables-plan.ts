import { noncentralTSf } from "../distributions/noncentral-t";
import { normalUpperQuantile } from "../distributions/normal";
import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";
import { attributePlan, type AttributeScheme } from "./attribute-plan";
import { INSPECTION_LEVELS, type InspectionLevel, requireLot, type Severity } from "./attribute-tables";
import { qualityAt } from "./operating-characteristic";

export const VARIABLES_METHODS = ["s", "sigma"] as const;
export type VariablesMethod = (typeof VARIABLES_METHODS)[number];

/** Single sampling plan by variables, one specification limit: accepted where (limit - mean) / spread is at least k. */
export type VariablesPlan = {
  readonly code: string;
  readonly usedCode: string;
  readonly n: number;
  readonly tableN: number;
  readonly k: number;
  /** From the published table, or computed so that it accepts what the plan by attributes accepts. */
  readonly basis: "table" | "computed";
};

export const VARIABLES_AQLS = [0.1, 0.15, 0.25, 0.4, 0.65, 1, 1.5, 2.5, 4, 6.5, 10] as const;

/** Letter, sample size, and k of the columns from the first with a plan up to AQL 10. */
const S_TABLE: readonly (readonly [string, number, readonly number[]])[] = [
  ["B", 3, [1.12, 0.958, 0.765, 0.566]],
  ["C", 4, [1.45, 1.34, 1.17, 1.01, 0.814, 0.617]],
  ["D", 5, [1.65, 1.53, 1.4, 1.24, 1.07, 0.874, 0.675]],
  ["E", 7, [2, 1.88, 1.75, 1.62, 1.5, 1.33, 1.15, 0.955, 0.755]],
  ["F", 10, [2.24, 2.11, 1.98, 1.84, 1.72, 1.58, 1.41, 1.23, 1.03, 0.828]],
  ["G", 15, [2.42, 2.32, 2.2, 2.06, 1.91, 1.79, 1.65, 1.47, 1.3, 1.09, 0.886]],
  ["H", 20, [2.47, 2.36, 2.24, 2.11, 1.96, 1.82, 1.69, 1.51, 1.33, 1.12, 0.917]],
  ["I", 25, [2.5, 2.4, 2.26, 2.14, 1.98, 1.85, 1.72, 1.53, 1.35, 1.14, 0.936]],
  ["J", 35, [2.54, 2.45, 2.31, 2.18, 2.03, 1.89, 1.76, 1.57, 1.39, 1.18, 0.969]],
  ["K", 50, [2.6, 2.5, 2.35, 2.22, 2.08, 1.93, 1.8, 1.61, 1.42, 1.21, 1]],
  ["L", 75, [2.66, 2.55, 2.41, 2.27, 2.12, 1.98, 1.84, 1.65, 1.46, 1.24, 1.03]],
  ["M", 100, [2.69, 2.58, 2.43, 2.29, 2.14, 2, 1.86, 1.67, 1.48, 1.26, 1.05]],
  ["N", 150, [2.73, 2.61, 2.47, 2.33, 2.18, 2.03, 1.89, 1.7, 1.51, 1.29, 1.07]],
  ["P", 200, [2.73, 2.62, 2.47, 2.33, 2.18, 2.04, 1.89, 1.7, 1.51, 1.29, 1.07]],
];

/** k of tightened inspection at AQL 0.1; every other one is that of the column to the left. */
const S_TIGHTENED_FIRST: Readonly<Record<string, number>> = {
  G: 2.53,
  H: 2.58,
  I: 2.61,
  J: 2.65,
  K: 2.71,
  L: 2.77,
  M: 2.8,
  N: 2.84,
  P: 2.85,
};

/** Largest lot of each row, letters of levels S-3, S-4, I, II, III; S-1 and S-2 are not in the table. */
const S_LETTER_ROWS: readonly (readonly [number, string])[] = [
  [8, "BBBBC"],
  [15, "BBBBD"],
  [25, "BBBCE"],
  [50, "BBCDF"],
  [90, "BBDEG"],
  [150, "BCEFH"],
  [280, "BDFGI"],
  [400, "CEGHJ"],
  [500, "CEGIJ"],
  [1200, "DFHJK"],
  [3200, "EGIKL"],
  [10000, "FHJLM"],
  [35000, "GIKMN"],
  [150000, "HJLNP"],
  [500000, "HKMPP"],
  [Infinity, "HKNPP"],
];

/** A plan of the sigma method that the standard prints as its example: letter H, AQL 1.5, normal. */
const SIGMA_PRINTED = { code: "H", aql: 1.5, severity: "normal", n: 12, k: 1.613 } as const;

/**
 * Single sampling plan for a lot by variables.
 * @param lot - items, integer >= 2
 * @param aql - a preferred acceptance quality limit of the method, percent nonconforming
 * @returns plan
 * @throws CoreError out-of-range for a lot below 2, an AQL that the method has no plan for, or a level that its table leaves out
 * Method: s, normal and tightened: n and k as printed. Reduced inspection and the sigma method, whose tables are not openly known: the
 *   plan that accepts the same quality half of the time as the plan by attributes of the same lot, and falls from 95 % to 10 %
 *   over no wider a range.
 * Accuracy: each k of the table lies within 0.016 of the noncentral t solution that it follows from
 * Source: ISO 3951:1989 table II-A, the same as ANSI/ASQ Z1.9-1993 table B-1; example of the sigma method ISO 3951-1:2005 clause
 *   16.2 (from memory). Later editions have other n and k.
 */
export function variablesPlan({
  method,
  ...scheme
}: AttributeScheme & { readonly method: VariablesMethod }): VariablesPlan {
  requireLot("variablesPlan", scheme.lot);
  const column = VARIABLES_AQLS.findIndex((aql) => aql === scheme.aql);
  if (column < 0)
    throw new CoreError(
      "out-of-range",
      `variablesPlan: aql must be one of ${VARIABLES_AQLS.join(", ")}; got ${scheme.aql}`,
    );
  return method === "s" && scheme.severity !== "reduced" ? printedPlan(scheme, column) : computedPlan(scheme, method);
}

/** Whether the plans of a method and severity have this inspection level. */
export function hasVariablesLevel(method: VariablesMethod, severity: Severity, level: InspectionLevel): boolean {
  return method === "sigma" || severity === "reduced" || INSPECTION_LEVELS.indexOf(level) >= 2;
}

function printedPlan({ lot, level, severity }: AttributeScheme, column: number): VariablesPlan {
  if (!hasVariablesLevel("s", severity, level))
    throw new CoreError("out-of-range", `variablesPlan: level must be S-3, S-4, I, II or III; got ${level}`);
  const code = S_LETTER_ROWS.find(([most]) => lot <= most)![1][INSPECTION_LEVELS.indexOf(level) - 2]!;
  const from = S_TABLE.findIndex(([letter]) => letter === code);
  for (const [usedCode, tableN, constants] of S_TABLE.slice(from)) {
    const k = constantAt(usedCode, constants, column, severity);
    if (k !== undefined) return { code, usedCode, n: Math.min(tableN, lot), tableN, k, basis: "table" };
  }
  throw new Error(`variablesPlan: no plan from letter ${code} on`);
}

function constantAt(
  letter: string,
  constants: readonly number[],
  column: number,
  severity: Severity,
): number | undefined {
  if (severity === "tightened" && column === 0) return S_TIGHTENED_FIRST[letter];
  const wanted = severity === "tightened" ? column - 1 : column;
  return constants[wanted - (VARIABLES_AQLS.length - constants.length)];
}

function computedPlan(scheme: AttributeScheme, method: VariablesMethod): VariablesPlan {
  const { lot, aql, severity } = scheme;
  const { code, usedCode, tableN: drawn, ac } = attributePlan(scheme);
  const printed = SIGMA_PRINTED;
  if (method === "sigma" && usedCode === printed.code && aql === printed.aql && severity === printed.severity)
    return { code, usedCode, n: Math.min(printed.n, lot), tableN: printed.n, k: printed.k, basis: "table" };
  // Of a process, not of one lot, as the tables are made: a lot so large that it makes no difference.
  const counted = { by: "count", lot: 1e9, n: drawn, ac } as const;
  const z = (probability: number): number => normalUpperQuantile(qualityAt(counted, probability));
  const middle = z(0.5);
  const known = Math.ceil(((normalUpperQuantile(0.05) + normalUpperQuantile(0.1)) / (z(0.95) - z(0.1))) ** 2);
  const tableN = Math.max(2, method === "sigma" ? known : Math.ceil(known * (1 + middle ** 2 / 2)));
  const exact = method === "sigma" ? middle : halfAccepted(tableN, middle);
  return { code, usedCode, n: Math.min(tableN, lot), tableN, k: Math.round(exact * 1000) / 1000, basis: "computed" };
}

/** k with which the s method accepts half of the lots whose limit lies z standard deviations off the mean. */
function halfAccepted(n: number, z: number): number {
  const root = Math.sqrt(n);
  return brentRoot((k) => noncentralTSf(k * root, { df: n - 1, delta: z * root }) - 0.5, z - 2, z + 4, 1e-10);
}
