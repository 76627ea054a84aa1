import type { CauseAnswer } from "./case";
import { CAUSE_RULES, settlingMeasurement } from "./cause-table";
import type { FittedCause } from "./rank-causes";

/** Odds from which one cause is named alone. */
const PROBABLE = Math.log(10);

/** What is said of the ranked causes of a case: one, two with what separates them, two at once, or none. */
export function answerOf(causes: readonly FittedCause[]): CauseAnswer {
  const possible = causes.filter(({ lnOdds }) => lnOdds !== null);
  const [best, second] = possible;
  if (best === undefined || best.cause === "unknown") return { kind: "unknown" };
  const named = possible.filter(({ cause }) => cause !== "unknown");
  const other = named[1];
  if (best.unexplained.length > 0 && other !== undefined && coversRest(best, other))
    return { kind: "together", causes: [best.cause, other.cause] };
  const odds = -(second?.lnOdds ?? -Infinity);
  if (odds >= PROBABLE) {
    const rule = CAUSE_RULES.find(({ cause }) => cause === best.cause);
    return { kind: "probable", cause: best.cause, twin: rule?.twin ?? null };
  }
  if (second === undefined || second.cause === "unknown") return { kind: "unknown" };
  return {
    kind: "either",
    causes: [best.cause, second.cause],
    measure: settlingMeasurement(best.cause, second.cause),
  };
}

/** Whether each of two causes explains what the other leaves. */
function coversRest(one: FittedCause, other: FittedCause): boolean {
  return other.unexplained.length > 0 && one.unexplained.every((feature) => !other.unexplained.includes(feature));
}
