import { attributePlan } from "../core/sampling/attribute-plan";
import { type InspectionLevel, PREFERRED_AQLS, type Severity } from "../core/sampling/attribute-tables";
import type { PlannedFrames } from "../core/sampling/planned-frames";
import { SWITCHING_START, type SwitchingState } from "../core/sampling/switching";
import { VARIABLES_AQLS, variablesPlan, type VariablesMethod } from "../core/sampling/variables-plan";
import { zeroAcceptancePlan } from "../core/sampling/zero-acceptance-plan";
import type { SamplingScheme } from "./sampling-answer";

/** Sizes whose values a plan by variables looks at. */
export const SIZES_BY_VARIABLES = ["bore", "width"] as const;
export type SizeByVariables = (typeof SIZES_BY_VARIABLES)[number];

type BySwitching = {
  readonly level: InspectionLevel;
  readonly aql: number;
  /** Whoever is responsible wants reduced inspection once the score allows it, and says that production is steady. */
  readonly reducedWanted: boolean;
};

/** How the batches of one supplier and model are sampled. */
export type LotScheme =
  | { readonly kind: "all" }
  | ({ readonly kind: "iso-2859-1" } & BySwitching)
  | ({
      readonly kind: "iso-3951-1";
      readonly method: VariablesMethod;
      /** Known standard deviations, mm, of the sigma method; a size without one is counted. */
      readonly sigmaMm: Readonly<Partial<Record<SizeByVariables, number>>>;
    } & BySwitching)
  | { readonly kind: "zero-acceptance"; readonly index: number; readonly risk: number };

/** Why a batch is measured whole although its scheme draws a sample. */
export type WholeBecause = "lot-of-one" | "sampling-ended" | "sample-is-lot";

/** By which plan one batch is sampled and judged. */
export type LotPlan = {
  readonly scheme: LotScheme;
  readonly lot: number;
  readonly severity: Severity | null;
  /** Letter of lot and level, and of the plan that an arrow leads to. */
  readonly code: string | null;
  readonly usedCode: string | null;
  readonly n: number;
  readonly tableN: number;
  readonly ac: number | null;
  readonly re: number | null;
  readonly k: number | null;
  /** The same of the next tighter AQL, which the score of switching asks for. */
  readonly tighter: { readonly ac: number | null; readonly k: number | null } | null;
  readonly whole: WholeBecause | null;
};

/** Where the switching of a scheme begins; null where it has none. */
export function switchingStart(scheme: LotScheme): SwitchingState | null {
  return "aql" in scheme ? SWITCHING_START : null;
}

const WHOLE = { code: null, usedCode: null, ac: null, re: null, k: null, tighter: null } as const;

/**
 * The plan of a batch.
 *
 * @param lot - frames of the batch, integer >= 1
 * @param state - where the switching stands before it; null for schemes without
 * @throws CoreError out-of-range for an AQL or level without a plan
 */
export function lotPlan(scheme: LotScheme, lot: number, state: SwitchingState | null): LotPlan {
  const severity = state?.severity ?? null;
  const measured = (whole: WholeBecause | null): LotPlan => ({
    scheme,
    lot,
    severity,
    n: lot,
    tableN: lot,
    ...WHOLE,
    whole,
  });
  if (scheme.kind === "all") return measured(null);
  if (lot < 2) return measured("lot-of-one");
  if (state?.isDiscontinued === true) return measured("sampling-ended");
  const shared = { scheme, lot, severity } as const;
  const wholeOf = (n: number): WholeBecause | null => (n >= lot ? "sample-is-lot" : null);
  switch (scheme.kind) {
    case "iso-2859-1": {
      const { level, aql } = scheme;
      const at = (limit: number) => attributePlan({ lot, level, aql: limit, severity: severity ?? "normal" });
      const { n, tableN, ac, re, code, usedCode } = at(aql);
      const tighter = { ac: at(tighterAql(PREFERRED_AQLS, aql)).ac, k: null };
      return { ...shared, n, tableN, ac, re, k: null, code, usedCode, tighter, whole: wholeOf(n) };
    }
    case "iso-3951-1": {
      const { level, aql, method } = scheme;
      const at = (limit: number) => variablesPlan({ lot, level, aql: limit, severity: severity ?? "normal", method });
      const { n, tableN, k, code, usedCode } = at(aql);
      const tighter = { ac: null, k: at(tighterAql(VARIABLES_AQLS, aql)).k };
      return { ...shared, n, tableN, ac: null, re: null, k, code, usedCode, tighter, whole: wholeOf(n) };
    }
    case "zero-acceptance": {
      const { n, ac, re } = zeroAcceptancePlan(lot, scheme.index, scheme.risk);
      return { ...shared, ...WHOLE, n, tableN: n, ac, re, whole: wholeOf(n) };
    }
  }
}

function tighterAql(preferred: readonly number[], aql: number): number {
  return preferred.filter((one) => one < aql).at(-1) ?? aql;
}

/** Which frames of the batch are measured. */
export function framesOfPlan({ n, lot }: LotPlan): PlannedFrames {
  return n >= lot ? { kind: "all" } : { kind: "drawn", size: n };
}

/** The plan as its operating characteristic is asked for; null where all is measured by itself. */
export function askedOf(scheme: LotScheme, lot: number, severity: Severity | null): SamplingScheme | null {
  if (lot < 2) return null;
  switch (scheme.kind) {
    case "all":
      return null;
    case "iso-2859-1": {
      const { level, aql } = scheme;
      return { scheme: "iso-2859-1", lot, level, aql, severity: severity ?? "normal", history: null };
    }
    case "iso-3951-1": {
      const { level, aql, method } = scheme;
      return { scheme: "iso-3951-1", lot, level, aql, severity: severity ?? "normal", method };
    }
    case "zero-acceptance":
      return { scheme: "zero-acceptance", lot, index: scheme.index, risk: scheme.risk };
  }
}
