import { attributePlan } from "../core/sampling/attribute-plan";
import type { InspectionLevel, Severity } from "../core/sampling/attribute-tables";
import {
  acceptanceProbability,
  outgoingQuality,
  outgoingQualityLimit,
  type PlanInUse,
  qualityAt,
  seriesProbability,
} from "../core/sampling/operating-characteristic";
import { afterInspectedLots, type InspectedLot, type SwitchingState } from "../core/sampling/switching";
import { variablesPlan, type VariablesMethod } from "../core/sampling/variables-plan";
import { zeroAcceptancePlan } from "../core/sampling/zero-acceptance-plan";

/** Lots inspected before by the same plan, oldest first: they choose the severity. */
export type LotHistory = { readonly lots: readonly InspectedLot[]; readonly isReducedWanted: boolean };

type Common = {
  readonly lot: number;
  readonly level: InspectionLevel;
  readonly aql: number;
  readonly severity: Severity;
};

/** How a lot is to be sampled. */
export type SamplingScheme =
  | ({ readonly scheme: "iso-2859-1"; readonly history: LotHistory | null } & Common)
  | ({ readonly scheme: "iso-3951-1"; readonly method: VariablesMethod } & Common)
  | { readonly scheme: "zero-acceptance"; readonly lot: number; readonly index: number; readonly risk: number };

/** Quality of a lot, and with which probability it is accepted. */
export type AcceptedQuality = { readonly p: number; readonly pa: number };

export type SamplingAnswer = {
  readonly scheme: SamplingScheme["scheme"];
  /** The severity of the plan: the one asked for, or the one that earlier lots lead to; null without one. */
  readonly severity: Severity | null;
  /** Where the switching stands after the earlier lots; null where none were given. */
  readonly switching: SwitchingState | null;
  /** Letter of lot and level, and of the plan that an arrow leads to; null without letters. */
  readonly code: string | null;
  readonly usedCode: string | null;
  /** Frames to draw, and how many the table says: more than the lot has where the whole lot is inspected. */
  readonly n: number;
  readonly tableN: number;
  readonly ac: number | null;
  readonly re: number | null;
  readonly k: number | null;
  readonly distribution: "hypergeometric" | "poisson" | "noncentral-t" | "normal";
  readonly basis: "table" | "computed";
  /** `paSeries`: of an endless series of lots with that fraction (binomial), where counts decide. */
  readonly oc: readonly (AcceptedQuality & { readonly aoq: number; readonly paSeries: number | null })[];
  readonly risks: {
    /** Of refusing a good lot: at the AQL, without one at the quality that 95 % of the time is accepted. */
    readonly producer: AcceptedQuality & { readonly risk: number };
    /** Of accepting a bad lot: at the quality accepted one time in ten, for a tolerance at the tolerance. */
    readonly consumer: AcceptedQuality & { readonly risk: number };
  };
  readonly aoql: { readonly p: number; readonly aoq: number };
};

/** Above this AQL nonconformities are counted, of which a frame may have several. ISO 2859-1:1999 clause 5.1. */
const LARGEST_PERCENT_NONCONFORMING = 10;

/**
 * A sampling plan and how weak it is.
 *
 * @param fractions - qualities of the curve, 0 to 1; null for 41 of its own that cover it
 * @throws CoreError out-of-range for a lot below 2, an AQL or level without a plan
 */
export function samplingAnswer(given: SamplingScheme, fractions: readonly number[] | null): SamplingAnswer {
  const switching = switchingOf(given);
  const asked = switching === null || !("severity" in given) ? given : { ...given, severity: switching.severity };
  const { plan, known } = planOf(asked);
  const at = (p: number): AcceptedQuality => ({ p, pa: acceptanceProbability(plan, p) });
  const good = at(asked.scheme === "zero-acceptance" ? qualityAt(plan, 0.95) : asked.aql / 100);
  const bad = at(asked.scheme === "zero-acceptance" ? toleratedOf(asked) : qualityAt(plan, 0.1));
  return {
    scheme: asked.scheme,
    severity: "severity" in asked ? asked.severity : null,
    switching,
    ...known,
    n: plan.n,
    distribution: DISTRIBUTION[plan.by],
    oc: (fractions ?? chosenFractions(plan)).map((p) => ({
      ...at(p),
      aoq: outgoingQuality(plan, p),
      paSeries: seriesProbability(plan, p),
    })),
    risks: { producer: { ...good, risk: 1 - good.pa }, consumer: { ...bad, risk: bad.pa } },
    aoql: outgoingQualityLimit(plan),
  };
}

const DISTRIBUTION = {
  count: "hypergeometric",
  nonconformities: "poisson",
  s: "noncentral-t",
  sigma: "normal",
} as const satisfies Record<PlanInUse["by"], string>;

type Known = Pick<SamplingAnswer, "code" | "usedCode" | "tableN" | "ac" | "re" | "k" | "basis">;

function planOf(asked: SamplingScheme): { readonly plan: PlanInUse; readonly known: Known } {
  const { lot } = asked;
  switch (asked.scheme) {
    case "iso-2859-1": {
      const { n, code, usedCode, tableN, ac, re } = attributePlan(asked);
      const by = asked.aql > LARGEST_PERCENT_NONCONFORMING ? "nonconformities" : "count";
      return { plan: { by, lot, n, ac }, known: { code, usedCode, tableN, ac, re, k: null, basis: "table" } };
    }
    case "iso-3951-1": {
      const { n, code, usedCode, tableN, k, basis } = variablesPlan(asked);
      return {
        plan: { by: asked.method, lot, n, k },
        known: { code, usedCode, tableN, ac: null, re: null, k, basis },
      };
    }
    case "zero-acceptance": {
      const { n, ac, re } = zeroAcceptancePlan(lot, asked.index, asked.risk);
      const known = { code: null, usedCode: null, tableN: n, ac, re, k: null, basis: "computed" } as const;
      return { plan: { by: "count", lot, n, ac }, known };
    }
  }
}

function switchingOf(given: SamplingScheme): SwitchingState | null {
  if (given.scheme !== "iso-2859-1" || given.history === null) return null;
  const { level, aql, history } = given;
  return afterInspectedLots({ level, aql, isReducedWanted: history.isReducedWanted }, history.lots);
}

function toleratedOf({ lot, index, risk }: Extract<SamplingScheme, { readonly scheme: "zero-acceptance" }>): number {
  return zeroAcceptancePlan(lot, index, risk).marked / lot;
}

/** Even steps from nothing to where hardly a lot is accepted. */
function chosenFractions(plan: PlanInUse): readonly number[] {
  const most = Math.min(1, qualityAt(plan, 0.005));
  return Array.from({ length: 41 }, (_, step) => (most * step) / 40);
}
