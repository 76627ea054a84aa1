import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import type { OffScale } from "../core/metrology/gauge-range";
import type { BarPassage, PlugFeel } from "../core/metrology/reading-name";
import { feltOf, type Felt } from "./felt-evidence";
import type { FeltSides } from "./felt-sides";
import type { JudgingDoubt } from "./judging-doubt";

/** Everything that one inspection brings to the judging of its frame, wherever it comes from. */
export type InspectionEvidence = {
  /** Tells inspections apart: its own key, or its place in a file. */
  readonly key: string;
  /** How reasons name it: "inspection 2 of 12 May 10:14". */
  readonly label: string;
  readonly drawing: ShellDrawing;
  readonly compiled: CompiledMeasurement;
  /** One a reading of the plan, mm or µm as READING_UNIT says; null where it was not or could not be taken. */
  readonly readings: readonly (number | null)[];
  /** On which side a reading lies beyond what its gauge can show, a verdict without a value: one a reading, [] where none is. */
  readonly offScale: readonly (OffScale | null)[];
  /** Which readings somebody said cannot be taken: one a reading; left out where none was. */
  readonly cannot?: readonly boolean[];
  /** Plugs and bar; null where none were tried. */
  readonly felt: Felt | null;
  /** Of the part while it was measured, °C; null where nobody said. */
  readonly temperatureC: number | null;
  /** What is doubted from outside the numbers: gauges, their zero, their range. */
  readonly doubts: readonly JudgingDoubt[];
  /**
   * True where its plan counts as a whole, whatever the batch's plan asks for today: it is that plan, was it when the frame was
   * measured, or is allowed by it by name.
   */
  readonly planCounts: boolean;
  /** Key of the gauge of each reading of the plan, null where none was named; left out where nobody knows, as in a file. */
  readonly gauges?: readonly (string | null)[];
  /** Which side counts where what was felt and what was read contradict each other; left out while nobody decided. */
  readonly sides?: FeltSides;
};

/** The part of an inspection's attributes that is evidence. */
export type EvidenceAttributes = {
  readonly plugs?: Readonly<Record<string, PlugFeel>> | undefined;
  readonly bars?: Readonly<Record<string, BarPassage>> | undefined;
  readonly temperatureC?: number | undefined;
};

/** What was felt, from an inspection's attributes; null where nothing was. */
export function feltIn({ plugs, bars }: EvidenceAttributes): Felt | null {
  return plugs === undefined && bars === undefined ? null : feltOf({ plugs, bars });
}
