import type { GaugeBarSet } from "../core/metrology/gauge-bar";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import {
  type BarFinding,
  barEvidence,
  type PlugEvidence,
  plugEvidence,
  type PlugFeelSettings,
  type PlugTrial,
} from "../core/metrology/plug-evidence";
import { type BarPassage, parseReadingName, type PlugFeel, type Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { evidenceSentences, isGaugeProblem } from "./evidence-sentences";

/** What was felt rather than read: plain plugs by seat, and how the gauge bar passed. */
export type Felt = {
  readonly plugs?: Readonly<Partial<Record<Seat, readonly PlugTrial[]>>>;
  readonly bar?: BarPassage;
};

/** Plugs and bar as evidence; null where none were tried. */
export type FeltEvidence = {
  readonly plugs: Readonly<Record<Seat, PlugEvidence | null>>;
  readonly bar: readonly BarFinding[] | null;
  /** What plugs and bar say, gauge problems first. */
  readonly sentences: readonly string[];
};

const SEVERITY = { free: 0, stiff: 1, no: 2 } as const satisfies Record<BarPassage["result"], number>;

/**
 * Plug trials by seat and the bar's worst passage, from words by reading name as inspections carry them.
 *
 * @param words - plugs by "(ds|nds).plug.SIZE", bars by "bar.SET"; names that are none are left out
 */
export function feltOf(words: {
  readonly plugs?: Readonly<Record<string, PlugFeel>> | undefined;
  readonly bars?: Readonly<Record<string, BarPassage>> | undefined;
}): Felt {
  const plugs: Partial<Record<Seat, PlugTrial[]>> = {};
  for (const [text, feel] of Object.entries(words.plugs ?? {})) {
    const name = parseReadingName(text);
    if (!name.ok || name.value.kind !== "plug") continue;
    plugs[name.value.seat] = [...(plugs[name.value.seat] ?? []), { sizeMm: name.value.sizeMm, feel }];
  }
  const [worst] = Object.values(words.bars ?? {}).sort((a, b) => SEVERITY[b.result] - SEVERITY[a.result]);
  return { plugs, ...(worst === undefined ? {} : { bar: worst }) };
}

/**
 * Plugs and bar against each other, the bore readings and the measured tilt: bounds, and gauge problems where they contradict
 * beyond both uncertainties. Nothing is averaged.
 */
export function feltEvidence(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  felt: Felt,
  settings: {
    readonly plugFeel: PlugFeelSettings;
    readonly gaugeBar: GaugeBarSet;
    readonly tiltUncertaintyArcmin: number;
  },
): FeltEvidence {
  const plugs = {
    ds: plugsOf(drawing, measurement, felt, "ds", settings.plugFeel),
    nds: plugsOf(drawing, measurement, felt, "nds", settings.plugFeel),
  };
  const bar = barOf(measurement, felt, settings.gaugeBar, settings.tiltUncertaintyArcmin);
  return { plugs, bar, sentences: evidenceSentences(plugs, bar) };
}

function plugsOf(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  felt: Felt,
  seat: Seat,
  settings: PlugFeelSettings,
): PlugEvidence | null {
  const trials = felt.plugs?.[seat] ?? [];
  if (trials.length === 0) return null;
  const bore = measurement.bores[seat];
  const size = drawing.characteristics.find((c) => c.name === "bore");
  const limits =
    size === undefined || size.lower === null || size.upper === null
      ? null
      : { lowerMm: size.lower, upperMm: size.upper };
  const measured =
    bore === null ? null : { smallestMm: bore.smallestMm, uncertaintyMm: (2 * sizeStandardUncertaintyUm(1)) / 1000 };
  return plugEvidence(trials, measured, limits, settings);
}

function barOf(
  { features }: FrameMeasurement,
  { bar }: Felt,
  set: GaugeBarSet,
  uncertaintyArcmin: number,
): readonly BarFinding[] | null {
  if (bar === undefined) return null;
  const tilts = [features["ds.tilt"].value, features["nds.tilt"].value].filter((tilt) => tilt !== null);
  const tilt = tilts.length < 2 ? null : { arcmin: Math.max(...tilts), uncertaintyArcmin };
  return barEvidence(bar.result === "no" ? "will not pass" : bar.result, set, tilt);
}

/** Sentences that a frame's warnings carry: gauge problems, and a bar that does not pass. */
export function feltWarnings({ bar, sentences }: FeltEvidence): string[] {
  const rejected = bar?.some(({ code }) => code === "bar-reject") ?? false;
  return sentences.filter((sentence) => isGaugeProblem(sentence) || (rejected && sentence.startsWith("The bar")));
}
