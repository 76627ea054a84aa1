import { type GaugeBarSet, USUAL_GAUGE_BAR_SET } from "../core/metrology/gauge-bar";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import { type PlugFeelSettings, USUAL_PLUG_FEEL } from "../core/metrology/plug-evidence";
import type { Seat } from "../core/metrology/reading-name";
import {
  type CompoundRange,
  type SalvageCaution,
  USUAL_COMPOUND_RANGE,
  USUAL_MOST_FACING_MM,
} from "../core/metrology/salvage";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import { type BearingMeanings, bearingMeanings, type BearingSettings, USUAL_BEARING_SETTINGS } from "./bearing-meaning";
import { type Felt, type FeltEvidence, feltEvidence } from "./felt-evidence";
import type { BarMeaning, CompoundMeaning, FacingMeaning, FunctionalMeaning, ReamMeaning } from "./meaning";
import { barMeaning, functionalMeaning, pairCylinders } from "./pair-meaning";
import { compoundMeaning, facingMeaning, reamMeaning } from "./salvage-meaning";

/** Everything of the estimates that a plant may set. */
export type MeaningSettings = {
  readonly bearing: BearingSettings;
  readonly gaugeBar: GaugeBarSet;
  readonly plugFeel: PlugFeelSettings;
  readonly compound: CompoundRange;
  readonly mostFacingMm: number;
};

export const USUAL_MEANING_SETTINGS: MeaningSettings = {
  bearing: USUAL_BEARING_SETTINGS,
  gaugeBar: USUAL_GAUGE_BAR_SET,
  plugFeel: USUAL_PLUG_FEEL,
  compound: USUAL_COMPOUND_RANGE,
  mostFacingMm: USUAL_MOST_FACING_MM,
};

export type MeaningInput = Felt & {
  readonly measurement: FrameMeasurement;
  /** U of characteristics under the plan in use (`covered` of a compiled plan); the drawing's own where it is left out. */
  readonly uncertainties?: readonly {
    readonly name: CharacteristicName;
    readonly seat: Seat | null;
    readonly uncertainty: number;
  }[];
  readonly settings?: Partial<MeaningSettings>;
};

/** Whether the readings call for it. */
export type CalledFor = { readonly calledFor: boolean };

/** What a person may do about the shell, and whether the readings call for it. */
export type SalvageMeanings = {
  /** The first possible way among those that are called for; "none needed", "not possible" or "not estimable" otherwise. */
  readonly summary: "line-ream" | "facing" | "retaining compound" | "none needed" | "not possible" | "not estimable";
  readonly ream: ReamMeaning & CalledFor;
  readonly facing: FacingMeaning & CalledFor;
  readonly compound: Readonly<Record<Seat, CompoundMeaning & CalledFor>>;
};

/** The panel "What this means" of one frame. */
export type FrameMeaning = {
  readonly bearings: Readonly<Record<Seat, BearingMeanings>>;
  readonly functionalSize: FunctionalMeaning;
  readonly gaugeBar: BarMeaning;
  readonly salvage: SalvageMeanings;
  /** Plugs and bar as evidence; null where none were tried. */
  readonly evidence: FeltEvidence;
  /** For every screen and export that shows any of this. */
  readonly cautions: readonly SalvageCaution[];
};

/**
 * What the readings of one frame mean: fit, running clearance and tilt of each bearing, the bars that pass, and whether the
 * shell can be saved, each with its assumptions and uncertainty.
 *
 * @param drawing - the shell drawing with what it carries
 * @param input - the frame's measurement, plugs and bar where they were tried, settings
 * @returns plain data, as from the drive side; what the readings cannot give says why
 * @throws CoreError where the drawing's dimensions cannot be (a bore larger than its housing, a wall without thickness)
 */
export function frameMeaning(drawing: ShellDrawing, input: MeaningInput): FrameMeaning {
  const { measurement } = input;
  const settings: MeaningSettings = { ...USUAL_MEANING_SETTINGS, ...input.settings };
  const tiltU = (seat: Seat) => uncertaintyOf(drawing, input, "tilt", seat);
  const { bar, ream } = pairCylinders(drawing, measurement);
  const tiltUncertaintyArcmin = Math.max(tiltU("ds"), tiltU("nds"));
  return {
    bearings: {
      ds: bearingMeanings(drawing, measurement, "ds", tiltU("ds"), settings.bearing),
      nds: bearingMeanings(drawing, measurement, "nds", tiltU("nds"), settings.bearing),
    },
    functionalSize: functionalMeaning(bar, { drawing, measurement }),
    gaugeBar: barMeaning(drawing, measurement, settings.gaugeBar, tiltUncertaintyArcmin),
    salvage: salvageMeanings(drawing, measurement, reamMeaning(drawing, measurement, ream), settings),
    evidence: feltEvidence(drawing, measurement, input, { ...settings, tiltUncertaintyArcmin }),
    cautions: ["makers-limits-decide", "dust-and-chips", "compound-data-sheet", "never-knurl-punch-shim"],
  };
}

function uncertaintyOf(drawing: ShellDrawing, input: MeaningInput, name: CharacteristicName, seat: Seat): number {
  const planned = input.uncertainties?.find((u) => u.name === name && (u.seat === seat || u.seat === null));
  return planned?.uncertainty ?? drawing.characteristics.find((c) => c.name === name)?.uncertainty ?? 0;
}

function salvageMeanings(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  ream: ReamMeaning,
  settings: MeaningSettings,
): SalvageMeanings {
  const { features, bores } = measurement;
  const limits = (name: CharacteristicName) => drawing.characteristics.find((c) => c.name === name);
  const over = (name: CharacteristicName, values: readonly (number | null)[]) => {
    const upper = limits(name)?.upper ?? null;
    return upper !== null && values.some((value) => value !== null && value > upper);
  };
  const lower = limits("bore")?.lower ?? null;
  const small = lower !== null && [bores.ds, bores.nds].some((bore) => bore !== null && bore.smallestMm < lower);
  const large = (seat: Seat) => over("bore", [bores[seat]?.largestMm ?? null]);
  const outOfLine =
    over("coaxiality", [features.coaxiality.value]) ||
    over("tilt", [features["ds.tilt"].value, features["nds.tilt"].value]);
  const faces = over("face run-out", [features["ds.face"].value, features["nds.face"].value]);
  const ways = {
    ream: { ...ream, calledFor: small || outOfLine },
    facing: { ...facingMeaning(drawing, measurement, settings.mostFacingMm), calledFor: faces },
    compound: {
      ds: { ...compoundMeaning(drawing, measurement, "ds", settings.compound), calledFor: large("ds") },
      nds: { ...compoundMeaning(drawing, measurement, "nds", settings.compound), calledFor: large("nds") },
    },
  };
  return { ...ways, summary: summaryOf(ways) };
}

function summaryOf(ways: Omit<SalvageMeanings, "summary">): SalvageMeanings["summary"] {
  const called = [
    { name: "line-ream", way: ways.ream },
    { name: "facing", way: ways.facing },
    { name: "retaining compound", way: ways.compound.ds },
    { name: "retaining compound", way: ways.compound.nds },
  ] as const;
  const needed = called.filter(({ way }) => way.calledFor);
  if (needed.length === 0) return "none needed";
  const possible = (way: (typeof called)[number]["way"]) =>
    way.result.ok && way.result.value.estimable && way.result.value.possible;
  if (needed.some(({ way }) => way.result.ok && !possible(way))) return "not possible";
  return needed.find(({ way }) => possible(way))?.name ?? "not estimable";
}
