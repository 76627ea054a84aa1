import type { Evidence, RankedCause } from "./case";

/** What a fact is about: which streams moved, which stayed, how it came, what it came with, what was measured or known beside it. */
export const FACT_TOPICS = ["moved", "stayed", "shape", "coincides", "beside"] as const;
export type FactTopic = (typeof FACT_TOPICS)[number];

const TOPIC: Readonly<Record<Evidence["code"], FactTopic>> = {
  "moved alike": "moved",
  "spared stream moved": "moved",
  "does not fit": "moved",
  "oval stays": "moved",
  spared: "stayed",
  shape: "shape",
  "began with": "coincides",
  event: "coincides",
  "only with": "coincides",
  "no change of": "coincides",
  "not after paint": "coincides",
  "frames between": "coincides",
  "zero check": "beside",
  "often before": "beside",
};

/** What the facts of one topic say of a cause; "nothing" where there is none. */
export type TopicFacts = { readonly says: "for" | "against" | "nothing"; readonly evidence: readonly Evidence[] };

export type CauseFacts = {
  readonly cause: RankedCause;
  readonly topics: Readonly<Record<FactTopic, TopicFacts>>;
  /** Topics that speak for it, of those that say anything of any cause. */
  readonly isFor: number;
};

function topicOf(cause: RankedCause, topic: FactTopic): TopicFacts {
  const evidence = cause.evidence.filter(({ code }) => TOPIC[code] === topic);
  if (evidence.length === 0) return { says: "nothing", evidence };
  return { says: evidence.every(({ isFor }) => isFor) ? "for" : "against", evidence };
}

/** Topics that say something of a cause, in their order. */
export function topicsOf(causes: readonly RankedCause[]): readonly FactTopic[] {
  const told = new Set(causes.flatMap(({ evidence }) => evidence.map(({ code }) => TOPIC[code])));
  return FACT_TOPICS.filter((topic) => told.has(topic));
}

/** The causes of a case with what each fact says of them; one fact against outweighs those for it in its topic. */
export function causeFacts(causes: readonly RankedCause[]): readonly CauseFacts[] {
  return causes.map((cause) => {
    const topics = Object.fromEntries(
      FACT_TOPICS.map((topic) => [topic, topicOf(cause, topic)]),
    ) as CauseFacts["topics"];
    return { cause, topics, isFor: Object.values(topics).filter(({ says }) => says === "for").length };
  });
}
