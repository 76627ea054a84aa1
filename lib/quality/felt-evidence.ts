import { gaugeBarSet } from "../core/metrology/gauge-bar";
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

/** How the bar of one set passed. */
export type BarTrial = BarPassage & { readonly set: string };

/** What was felt rather than read: plain plugs by seat, and how the gauge bars passed. */
export type Felt = {
  readonly plugs?: Readonly<Partial<Record<Seat, readonly PlugTrial[]>>>;
  readonly bars?: readonly BarTrial[];
};

/** Plugs and bar as evidence; null where none were tried. */
export type FeltEvidence = {
  readonly plugs: Readonly<Record<Seat, PlugEvidence | null>>;
  readonly bar: readonly BarFinding[] | null;
};

/**
 * Plug trials by seat and the passage of each bar, from words by reading name as inspections carry them.
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
    const { seat, sizeMm, across } = name.value;
    plugs[seat] = [...(plugs[seat] ?? []), { sizeMm, feel, ...(across === true ? { across } : {}) }];
  }
  const bars = Object.entries(words.bars ?? {}).flatMap(([text, passage]): BarTrial[] => {
    const name = parseReadingName(text);
    return name.ok && name.value.kind === "bar" ? [{ ...passage, set: name.value.set }] : [];
  });
  return { plugs, ...(bars.length === 0 ? {} : { bars }) };
}

/**
 * Plugs and bar against each other, the bore readings and the measured tilt: bounds, and gauge problems where they contradict
 * beyond both uncertainties. Nothing is averaged; what follows for the verdict is `judgeFelt`'s.
 */
export function feltEvidence(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  felt: Felt,
  settings: { readonly plugFeel: PlugFeelSettings; readonly tiltUncertaintyArcmin: number },
): FeltEvidence {
  const plugs = {
    ds: plugsOf(drawing, measurement, felt, "ds", settings.plugFeel),
    nds: plugsOf(drawing, measurement, felt, "nds", settings.plugFeel),
  };
  return { plugs, bar: barsOf(measurement, felt, settings.tiltUncertaintyArcmin) };
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
  const measured = bore === null ? null : { ...bore, uncertaintyMm: (2 * sizeStandardUncertaintyUm(1)) / 1000 };
  return plugEvidence(trials, measured, limits, settings);
}

function barsOf(
  { features }: FrameMeasurement,
  { bars = [] }: Felt,
  uncertaintyArcmin: number,
): readonly BarFinding[] | null {
  if (bars.length === 0) return null;
  const tilts = [features["ds.tilt"].value, features["nds.tilt"].value].filter((tilt) => tilt !== null);
  const tilt = tilts.length < 2 ? null : { arcmin: Math.max(...tilts), uncertaintyArcmin };
  return bars.flatMap(({ set, result }) => {
    const gauges = gaugeBarSet(set);
    return gauges === null ? [] : barEvidence(result === "no" ? "will not pass" : result, gauges, tilt);
  });
}
