import "server-only";
import { samplingWords } from "@/lib/format/sampling-words";
import { type SamplingAnswer, samplingAnswer, type SamplingScheme } from "@/lib/quality/sampling-answer";
import type { SamplingRequest } from "@/lib/schemas/sampling";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";

/**
 * A sampling plan with its operating characteristic, both risks and outgoing quality. Stores nothing.
 *
 * @throws AppError forbidden
 */
export function answerSampling(
  viewer: Viewer,
  { p, ...asked }: SamplingRequest,
): SamplingAnswer & { readonly words: readonly string[] } {
  assertMay(viewer, "gate.sampling");
  const scheme = asked.scheme === "iso-2859-1" ? withHistory(asked) : asked;
  const answer = samplingAnswer(scheme, p ?? null);
  return { ...answer, words: samplingWords(scheme, answer) };
}

function withHistory({
  history,
  reducedWanted,
  ...asked
}: Omit<Extract<SamplingRequest, { readonly scheme: "iso-2859-1" }>, "p">): SamplingScheme {
  const lots = history?.map(({ lot, nonconforming, steady }) => ({ lot, nonconforming, isSteady: steady }));
  return { ...asked, history: lots === undefined ? null : { lots, isReducedWanted: reducedWanted } };
}
