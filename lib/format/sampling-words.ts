import type { SwitchingState } from "../core/sampling/switching";
import type { SamplingAnswer, SamplingScheme } from "../quality/sampling-answer";
import { formatFixed } from "./number-text";

/** A fraction as percent with three digits that count: "0.35 %", "12.4 %", "under 0.001 %". */
export function percentText(fraction: number): string {
  const percent = 100 * fraction;
  if (percent === 0 || percent >= 99.95) return `${formatFixed(percent, 0)} %`;
  if (percent < 0.001) return "under 0.001 %";
  return `${formatFixed(percent, Math.max(1, Math.min(3, 1 - Math.floor(Math.log10(percent)))))} %`;
}

/** What has to be done with a lot, in a sentence. */
function ruleWords(asked: SamplingScheme, { n, ac, re, k }: SamplingAnswer): string {
  const drawn = n >= asked.lot ? `Measure all ${n} frames` : `Draw ${n} of ${asked.lot} frames at random`;
  if (k !== null)
    return `${drawn}; accept where the limit lies at least ${formatFixed(k, 3)} standard deviations from the mean.`;
  const counted = asked.scheme === "iso-2859-1" && asked.aql > 10 ? "nonconformities" : "nonconforming frames";
  return `${drawn}; accept with ${ac} ${counted} or fewer, refuse with ${re} or more. Not proven counts as nonconforming.`;
}

const BY = {
  hypergeometric: "Exact for a lot of this size (hypergeometric); between whole numbers of frames on a straight line.",
  poisson: "Nonconformities are counted, several of one frame too (Poisson).",
  "noncentral-t": "For values that are normally distributed, spread estimated from the sample (noncentral t).",
  normal: "For values that are normally distributed, spread known (normal).",
} as const satisfies Record<SamplingAnswer["distribution"], string>;

function editionWords(asked: SamplingScheme, { basis }: SamplingAnswer): string {
  if (asked.scheme === "iso-2859-1") return "Single sampling, ISO 2859-1:1999.";
  if (asked.scheme === "zero-acceptance")
    return `The smallest sample that misses a lot with ${formatFixed(asked.index, 2)} % nonconforming at most ${percentText(asked.risk)} of the time.`;
  if (asked.method === "sigma")
    return basis === "table"
      ? "Known standard deviation, example of ISO 3951-1:2005."
      : "Known standard deviation; computed to accept what the plan by attributes of ISO 2859-1 accepts, not a printed table.";
  return basis === "table"
    ? "Unknown standard deviation, n and k of ISO 3951:1989; later editions of ISO 3951-1 have other ones."
    : "Unknown standard deviation, reduced; computed to accept what the plan by attributes of ISO 2859-1 accepts, not a printed table.";
}

/** Which inspection the earlier lots lead to, and what ends it. */
function switchingWords({ severity, score, isDiscontinued, newest, refusedTightened }: SwitchingState): string {
  if (isDiscontinued)
    return "Five lots were refused on tightened inspection: accept none by sampling until the supplier has improved.";
  const accepted = newest.length - 1 - newest.lastIndexOf(false);
  switch (severity) {
    case "normal":
      return `Earlier lots lead to normal inspection; switching score ${score}, reduced inspection may begin at 30.`;
    case "tightened":
      return `Earlier lots lead to tightened inspection: ${refusedTightened} of its lots refused, sampling ends at 5; ${accepted} accepted in a row, normal inspection begins after 5.`;
    case "reduced":
      return "Earlier lots lead to reduced inspection; the first refused lot ends it.";
  }
}

/**
 * A sampling plan in sentences: what to do, what its arrow or small lot changed, where it comes from, and how weak it is.
 */
export function samplingWords(asked: SamplingScheme, answer: SamplingAnswer): readonly string[] {
  const { code, usedCode, n, tableN, risks, aoql } = answer;
  const isWhole = n >= asked.lot;
  const arrow =
    code === usedCode ? [] : [`Letter ${code} has no plan of its own here: the plan of letter ${usedCode} is used.`];
  const whole = isWhole && tableN > n ? [`The table's sample of ${tableN} is no smaller than the lot.`] : [];
  const { producer, consumer } = risks;
  const weak = isWhole
    ? []
    : [
        `A lot with ${percentText(consumer.p)} nonconforming is still accepted ${percentText(consumer.risk)} of the time.`,
        `A lot with ${percentText(producer.p)} nonconforming is refused ${percentText(producer.risk)} of the time.`,
        `Where refused lots are sorted, at most ${percentText(aoql.aoq)} nonconforming leave on average, at ${percentText(aoql.p)} coming in.`,
      ];
  const after = answer.switching === null ? [] : [switchingWords(answer.switching)];
  return [
    ruleWords(asked, answer),
    ...after,
    ...arrow,
    ...whole,
    editionWords(asked, answer),
    BY[answer.distribution],
    ...weak,
  ];
}
