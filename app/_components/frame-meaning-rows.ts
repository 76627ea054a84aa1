import { formatUncertainty } from "@/lib/format/number-text";
import type { ToldFrameMeaning, ToldMeaning } from "@/lib/format/meaning-words";
import type { MeaningRow } from "@/lib/ui/meaning-list";

function row(key: string, meaning: ToldMeaning<unknown>): MeaningRow {
  const { title, figure, sentence, explanation, assumptions, uncertainty } = meaning;
  return {
    key,
    title,
    figure,
    sentence,
    explanation,
    assumptions,
    uncertainty: uncertainty === null ? null : formatUncertainty(uncertainty.value, uncertainty.unit),
  };
}

/** The panel "What this means" as rows: fit, clearance and tilt of each bearing, bars, and how the shell can be saved. */
export function frameMeaningRows(meaning: ToldFrameMeaning): MeaningRow[] {
  const seats = (["ds", "nds"] as const).flatMap((seat) =>
    Object.entries(meaning.bearings[seat]).map(([key, one]) => row(`${seat} ${key}`, one)),
  );
  const { ream, facing, compound } = meaning.salvage;
  return [
    ...seats,
    row("functional size", meaning.functionalSize),
    row("gauge bar", meaning.gaugeBar),
    row("ream", ream),
    ...(facing.calledFor ? [row("facing", facing)] : []),
    ...(compound.ds.calledFor ? [row("compound ds", compound.ds)] : []),
    ...(compound.nds.calledFor ? [row("compound nds", compound.nds)] : []),
  ];
}
