import type { SwitchingState } from "../core/sampling/switching";
import type { LotJudgement, LotStatistic } from "../quality/lot-judgement";
import type { LotPlan, LotScheme, WholeBecause } from "../quality/lot-plan";
import { formatFixed } from "./number-text";
import { countText, seatText, serialsText, valueText } from "./value-text";

const METHOD = { s: "s", sigma: "sigma" } as const;

/** A scheme in one line: what draws the sample. */
export function schemeText(scheme: LotScheme): string {
  switch (scheme.kind) {
    case "all":
      return "every frame";
    case "iso-2859-1":
      return `ISO 2859-1, level ${scheme.level}, AQL ${scheme.aql} %${scheme.reducedWanted ? ", reduced inspection wanted" : ""}`;
    case "iso-3951-1":
      return `ISO 3951-1, ${METHOD[scheme.method]} method, level ${scheme.level}, AQL ${scheme.aql} %${scheme.reducedWanted ? ", reduced inspection wanted" : ""}`;
    case "zero-acceptance":
      return `zero acceptance, lot tolerance ${scheme.index} %, risk ${formatFixed(scheme.risk * 100, 0)} %`;
  }
}

const WHOLE_TEXT = {
  "lot-of-one": "a lot of one frame: nothing can be drawn of it, so it is measured",
  "sampling-ended":
    "sampling ended after five refused batches on tightened inspection: every frame is measured until a new version is signed",
  "sample-is-lot": "the sample is as large as the batch, so every frame is measured",
} as const satisfies Record<WholeBecause, string>;

/** Why a batch is measured whole, without a full stop; null where a sample is drawn or the scheme asks for all. */
export function wholeText({ whole }: LotPlan): string | null {
  return whole === null ? null : WHOLE_TEXT[whole];
}

/** A plan as the dock says it: 13/0, or 15 with k 1.47. */
export function lotPlanText({ scheme, n, ac, k, severity, usedCode }: LotPlan): string {
  if (scheme.kind === "all") return `all ${n}`;
  const numbers = k === null ? `${n}/${ac ?? 0}` : `${n}, k ${formatFixed(k, 3)}`;
  const letter = usedCode === null ? "" : ` (${severity ?? "normal"}, letter ${usedCode})`;
  return `${numbers}${letter}`;
}

function statisticText({ name, seat, side, limit, mean, sd, q, isNotNormal }: LotStatistic, k: number): string {
  const subject = `${name}${seatText(seat)}, ${side} limit ${valueText(limit, "mm")}`;
  if (isNotNormal)
    return `${subject}: the values do not look normally distributed, so that a plan by variables says nothing of them`;
  const spread = `mean ${valueText(mean, "mm")}, standard deviation ${formatFixed(sd * 1000, 1)} µm`;
  if (q === null) return `${subject}: all values are ${valueText(mean, "mm")}`;
  return `${subject}: ${spread}, Q ${formatFixed(q, 2)} against k ${formatFixed(k, 2)}`;
}

/** What was found by the plan, without a full stop. */
export function lotResultText({ plan, measured, found, beside, statistics }: LotJudgement): string {
  const most = plan.ac ?? 0;
  const named = found.length === 0 ? "" : ` (${serialsText(found)})`;
  const counted = `${found.length} of ${countText(measured, "frame")} of the sample count against it${named}, ${most} may`;
  const next =
    beside.length === 0
      ? ""
      : `; ${countText(beside.length, "frame")} measured beside the sample did not conform (${serialsText(beside)})`;
  const k = plan.k;
  if (k === null) return `${counted}${next}`;
  const first = statistics.filter(({ isMet }) => !isMet);
  const nearest = statistics.toSorted((a, b) => (a.q ?? Infinity) - (b.q ?? Infinity)).slice(0, 1);
  const told = (first.length > 0 ? first : nearest).map((one) => statisticText(one, k));
  return [...told, `${counted}${next}`].join("; ");
}

const REFUSED_LIMIT = 5;

/** Where the switching stands and what moves it, in a sentence. */
export function standingText(
  { severity, score, newest, refusedTightened, isDiscontinued }: SwitchingState,
  reducedWanted: boolean,
): string {
  if (isDiscontinued)
    return "Five batches were refused on tightened inspection: sampling has ended, and every frame is measured. A new version, signed once the supplier has improved, begins again with tightened inspection.";
  const refused = newest.filter((isAccepted) => !isAccepted).length;
  const inARow = newest.length - 1 - newest.lastIndexOf(false);
  switch (severity) {
    case "normal":
      return `Normal inspection: ${newest.length === 0 ? "no batch judged yet" : `${refused} of the newest ${countText(newest.length, "batch", "batches")} refused`}, two of five lead to tightened inspection. Switching score ${score}${reducedWanted ? "; at 30 reduced inspection begins" : "; reduced inspection is not wanted"}.`;
    case "tightened":
      return `Tightened inspection: ${inARow} accepted in a row, five lead back to normal inspection; ${refusedTightened} refused since it began, at ${REFUSED_LIMIT} sampling ends.`;
    case "reduced":
      return "Reduced inspection: the first refused batch leads back to normal inspection.";
  }
}
