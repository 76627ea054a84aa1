import { formatDay } from "@/lib/format/date-text";
import { formatCounted, formatUm } from "@/lib/format/number-text";
import { FORM_FRAMES } from "@/lib/quality/observed-form";
import type { ExceededStream, ObservedForm, ObservedStream } from "@/lib/server/plans/observed-form";

const PART = { lobeUm: "lobes", ovalityUm: "ovality", taperUm: "taper" } as const;

function streamWords({ line, model, operation, frames, since, forms }: ObservedStream, zone: string): string {
  const largest = forms.flatMap((form) => form.largest ?? []).sort((a, b) => b.lobeUm - a.lobeUm)[0];
  const lobes = largest === undefined ? "" : `; largest ${largest.order}-lobe form ${formatUm(largest.lobeUm, 1)}`;
  const few = frames < FORM_FRAMES.fewest ? `; ${FORM_FRAMES.fewest} are needed, so that it is left out` : "";
  return `Line ${line}, ${model}, ${operation}: ${formatCounted(frames, "sweep")} since ${formatDay(since, { zone })}${lobes}${few}.`;
}

/** What the stored sweeps of a drawing's streams show, and what of it a plan may state. */
export function observedFormWords({ suggestion, streams }: ObservedForm, zone: string): readonly string[] {
  if (streams.length === 0)
    return ["No sweep of this drawing with seven angles or more is stored yet: the drawing’s limits stand."];
  const own = streams.map((stream) => streamWords(stream, zone));
  if (suggestion === null) return [...own, "No stream has enough of them yet: the drawing’s limits stand."];
  const { lobeUm, ovalityUm, taperUm } = suggestion;
  return [
    ...own,
    `99 of 100 frames of the worst stream stay within: lobes ${formatUm(lobeUm, 1)}, ovality ${formatUm(ovalityUm, 1)}, taper ${formatUm(taperUm, 1)}.`,
  ];
}

/** That frames show more form than a plan's U contains, and which batches were judged by it. */
export function exceededFormWords({ line, model, operation, exceeded, batches, moreBatches }: ExceededStream): string {
  const parts = exceeded.map(
    ({ part, statedUm, largestUm, beyond, frames }) =>
      `${PART[part]} beyond ${formatUm(statedUm, 1)} on ${beyond} of ${frames} frames, up to ${formatUm(largestUm, 1)}`,
  );
  const named = `${batches.join(", ")}${moreBatches > 0 ? ` and ${moreBatches} more` : ""}`;
  const judged = batches.length === 0 ? "No batch was judged by it yet." : `Judged by it: batches ${named}.`;
  return `Line ${line}, ${model}, ${operation}: ${parts.join("; ")}. The uncertainty of this plan is too small there. ${judged}`;
}
