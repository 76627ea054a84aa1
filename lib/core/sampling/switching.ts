import { attributePlan } from "./attribute-plan";
import { type InspectionLevel, PREFERRED_AQLS, type Severity } from "./attribute-tables";

/** Where the switching of one supplier and model stands. */
export type SwitchingState = {
  readonly severity: Severity;
  /** Switching score of normal inspection; reduced may begin at 30. */
  readonly score: number;
  /** Of the newest lots on original inspection at this severity, newest last, at most 5: whether they were accepted. */
  readonly newest: readonly boolean[];
  /** Lots not accepted since tightened inspection began; at 5 acceptance by sampling ends. */
  readonly refusedTightened: number;
  /** Inspection by sampling ended: the supplier improves before it begins again, tightened. */
  readonly isDiscontinued: boolean;
};

export const SWITCHING_START: SwitchingState = {
  severity: "normal",
  score: 0,
  newest: [],
  refusedTightened: 0,
  isDiscontinued: false,
};

/** A lot on original inspection, judged. */
export type JudgedLot = {
  readonly isAccepted: boolean;
  /** Acceptance number of its plan. */
  readonly ac: number;
  /** Whether the plan of the next tighter AQL would have accepted it, too. */
  readonly isAcceptedTighter: boolean;
  /** Production runs at a steady rate. */
  readonly isSteady: boolean;
  /** Whoever is responsible wants reduced inspection. */
  readonly isReducedWanted: boolean;
};

const NONE = { score: 0, newest: [], refusedTightened: 0 };

/**
 * State of the switching rules after a lot on original inspection; resubmitted lots do not count.
 * @returns the state for the next lot
 * Source: ISO 2859-1:1999 clause 9 (from memory): normal to tightened at 2 lots not accepted of 5 or fewer consecutive ones; tightened to
 *   normal after 5 accepted ones; discontinued at 5 lots not accepted on tightened inspection; normal to reduced at a switching
 *   score of 30 with steady production where it is wanted; reduced to normal at a lot not accepted or unsteady production. Score of
 *   single sampling: with Ac of 2 and more 3 for a lot that the next tighter AQL would accept, too, else 0 again; with Ac 0
 *   and 1 2 for an accepted lot, else 0 again.
 */
export function afterLot(state: SwitchingState, lot: JudgedLot): SwitchingState {
  if (state.isDiscontinued) return state;
  const newest = [...state.newest, lot.isAccepted].slice(-5);
  switch (state.severity) {
    case "normal": {
      if (newest.filter((isAccepted) => !isAccepted).length >= 2) return { ...state, ...NONE, severity: "tightened" };
      const score = scoreAfter(state.score, lot);
      const isReduced = score >= 30 && lot.isSteady && lot.isReducedWanted;
      return isReduced ? { ...state, ...NONE, severity: "reduced" } : { ...state, newest, score };
    }
    case "tightened": {
      if (newest.length === 5 && newest.every(Boolean)) return { ...state, ...NONE, severity: "normal" };
      const refusedTightened = state.refusedTightened + (lot.isAccepted ? 0 : 1);
      return { ...state, newest, refusedTightened, isDiscontinued: refusedTightened >= 5 };
    }
    case "reduced":
      return lot.isAccepted && lot.isSteady ? { ...state, newest } : { ...state, ...NONE, severity: "normal" };
  }
}

/** A lot that was inspected by the plan that its turn asked for. */
export type InspectedLot = { readonly lot: number; readonly nonconforming: number; readonly isSteady: boolean };

/**
 * State of the switching rules after lots inspected one after the other.
 * @param lots - oldest first, on original inspection, from the state on
 * @returns the state for the next lot
 * @throws CoreError out-of-range for a lot below 2 or an AQL that is none of the preferred ones
 */
export function afterInspectedLots(
  scheme: { readonly level: InspectionLevel; readonly aql: number; readonly isReducedWanted: boolean },
  lots: readonly InspectedLot[],
  from: SwitchingState = SWITCHING_START,
): SwitchingState {
  const { level, aql, isReducedWanted } = scheme;
  const tighter = PREFERRED_AQLS.filter((preferred) => preferred < aql).at(-1) ?? aql;
  return lots.reduce((state, { lot, nonconforming, isSteady }) => {
    const acOf = (limit: number): number => attributePlan({ lot, level, aql: limit, severity: state.severity }).ac;
    const ac = acOf(aql);
    const isAccepted = nonconforming <= ac;
    const isAcceptedTighter = nonconforming <= acOf(tighter);
    return afterLot(state, { isAccepted, ac, isAcceptedTighter, isSteady, isReducedWanted });
  }, from);
}

function scoreAfter(score: number, { isAccepted, ac, isAcceptedTighter }: JudgedLot): number {
  if (ac >= 2) return isAccepted && isAcceptedTighter ? score + 3 : 0;
  return isAccepted ? score + 2 : 0;
}
