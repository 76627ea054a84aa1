import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import { fullPlan } from "../core/metrology/measuring-plan";
import type { ReadingName } from "../core/metrology/reading-name";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import { createSeededGenerator } from "../core/numerics/seeded-generator";
import { findDemonstrationDrawing } from "../quality/demonstration-drawings";
import { measureShell, type MeasuringState } from "./measure-shell";
import { type FileFrame, type FileStyle, measurementFileText } from "./measurement-file-text";
import {
  withDriftingGauge,
  withKnockedFixture,
  withOvalMould,
  withPaintInBore,
  withTiredInspector,
  withWornReamer,
} from "./process-faults";
import { drawShell, type ProcessState } from "./shell-truth";
import { steadyMeasuring, steadyProcess } from "./steady-process";

/** What a station does at one frame of an example: the process, the measuring, and what the frame's row says. */
type FrameConditions = {
  readonly process: ProcessState;
  readonly measuring: MeasuringState;
  readonly mould?: string;
  readonly inspector?: string;
  readonly gauge?: string;
  readonly tool?: string;
  readonly operation?: string;
  readonly painted?: boolean;
};

/** An example file: what is in it, and what the check has to say about it. */
export type ExampleFile = {
  readonly file: string;
  readonly story: string;
  readonly exitCode: 0 | 1 | 2;
  /** The characteristic and the batch that the check must name; null where every batch ships or the file is bad. */
  readonly characteristic: CharacteristicName | null;
  readonly heldBatch: string | null;
};

type Recipe = ExampleFile & {
  readonly drawing: string;
  readonly line: string;
  readonly supplier: string;
  readonly batches: readonly string[];
  readonly framesPerBatch: number;
  readonly style: FileStyle;
  /** Conditions at a frame: its number from 0 over the whole file, and its batch's number. */
  readonly at: (frame: number, batch: number, process: ProcessState, measuring: MeasuringState) => FrameConditions;
  /** Slips of the pen that make the file a bad one. */
  readonly spoil?: (text: string) => string;
};

const PLAIN: FileStyle = { shape: "row per frame", separator: ",", decimalComma: false, byteOrderMark: false };
const SPREADSHEET: FileStyle = { shape: "row per frame", separator: ";", decimalComma: true, byteOrderMark: true };
const PER_READING: FileStyle = { shape: "row per reading", separator: ",", decimalComma: false, byteOrderMark: false };

const C41 = { drawing: "press-fit-41", line: "C41", supplier: "Pellgate Mouldings" } as const;
const A46 = { drawing: "press-fit-46", line: "A46", supplier: "Brackwater Tube" } as const;

/** Replaces the n-th data cell of a reading column that satisfies a rule: a slip as a person makes it. */
function slip(text: string, row: number, column: string, value: string): string {
  const lines = text.split("\r\n");
  const header = (lines[0] ?? "").split(",");
  const cells = (lines[row - 1] ?? "").split(",");
  cells[header.indexOf(column)] = value;
  lines[row - 1] = cells.join(",");
  return lines.join("\r\n");
}

const RECIPES: readonly Recipe[] = [
  {
    ...C41,
    file: "good.csv",
    story: "300 sound frames in six batches: every batch ships.",
    exitCode: 0,
    characteristic: null,
    heldBatch: null,
    batches: ["PM-2606-A", "PM-2606-B", "PM-2606-C", "PM-2606-D", "PM-2606-E", "PM-2606-F"],
    framesPerBatch: 50,
    style: PLAIN,
    at: (_frame, _batch, process, measuring) => ({ process, measuring }),
  },
  {
    ...C41,
    file: "reamer-wear-in-time.csv",
    story: "The reamer wears and the chart says so, but no frame is near its limit: a case informs, every batch ships.",
    exitCode: 0,
    characteristic: null,
    heldBatch: null,
    batches: ["PM-2607-A", "PM-2607-B", "PM-2607-C"],
    framesPerBatch: 60,
    style: PLAIN,
    at: (frame, _batch, process, measuring) => ({
      process: withWornReamer(process, frame < 110 ? -2 : -2 + 0.1 * (frame - 110)),
      measuring,
      tool: "R41-12",
    }),
  },
  {
    ...C41,
    file: "reamer-wear.csv",
    story: "The reamer goes on wearing until the seats of the last batch come out too small.",
    exitCode: 2,
    characteristic: "bore",
    heldBatch: "PM-2608-C",
    batches: ["PM-2608-A", "PM-2608-B", "PM-2608-C"],
    framesPerBatch: 50,
    style: PLAIN,
    at: (frame, _batch, process, measuring) => ({
      process: withWornReamer(process, frame < 100 ? 0.03 * frame - 3 : 0.6 * (frame - 100)),
      measuring,
      tool: "R41-09",
    }),
  },
  {
    ...C41,
    file: "knocked-fixture.csv",
    story: "A fixture was knocked before the second batch: the NDS seat sits off towards 4 o'clock.",
    exitCode: 2,
    characteristic: "coaxiality",
    heldBatch: "PM-2609-B",
    batches: ["PM-2609-A", "PM-2609-B", "PM-2609-C"],
    framesPerBatch: 40,
    style: PLAIN,
    at: (_frame, batch, process, measuring) => ({
      process: batch === 1 ? withKnockedFixture(process) : process,
      measuring,
    }),
  },
  {
    ...C41,
    file: "oval-mould.csv",
    story: "The second batch comes from mould M3, whose seats are oval towards 1:30.",
    exitCode: 2,
    characteristic: "ovality",
    heldBatch: "PM-2610-B",
    batches: ["PM-2610-A", "PM-2610-B", "PM-2610-C"],
    framesPerBatch: 40,
    style: SPREADSHEET,
    at: (_frame, batch, process, measuring) => ({
      process: batch === 1 ? withOvalMould(process) : process,
      measuring,
      mould: batch === 1 ? "M3" : "M1",
    }),
  },
  {
    ...A46,
    file: "drifting-gauge.csv",
    story: "Bore gauge BG-07 drifts during the last batch and shows every seat smaller than it is.",
    exitCode: 2,
    characteristic: "bore",
    heldBatch: "BT-2604-C",
    batches: ["BT-2604-A", "BT-2604-B", "BT-2604-C"],
    framesPerBatch: 40,
    style: PLAIN,
    at: (frame, batch, process, measuring) => ({
      process,
      measuring: batch === 2 ? withDriftingGauge(measuring, -0.8 * (frame - 80)) : measuring,
      gauge: batch === 2 ? "BG-07" : "BG-05",
    }),
  },
  {
    ...A46,
    file: "tired-inspector.csv",
    story:
      "R. Tamsel measures the second batch at the end of a double shift: the spread of that person's readings grows.",
    exitCode: 2,
    characteristic: "bore",
    heldBatch: "BT-2605-B",
    batches: ["BT-2605-A", "BT-2605-B"],
    framesPerBatch: 20,
    style: PER_READING,
    at: (_frame, batch, process, measuring) => ({
      process,
      measuring: batch === 1 ? withTiredInspector(measuring) : measuring,
      inspector: batch === 1 ? "R. Tamsel" : "J. Ostrand",
    }),
  },
  {
    ...A46,
    file: "paint-in-bore.csv",
    story: "Frames of the second batch come back from painting with powder in the bore.",
    exitCode: 2,
    characteristic: "bore",
    heldBatch: "BT-2606-B",
    batches: ["BT-2606-A", "BT-2606-B", "BT-2606-C"],
    framesPerBatch: 40,
    style: PLAIN,
    at: (frame, batch, process, measuring) => ({
      process,
      measuring,
      painted: batch === 1 && frame % 4 === 0,
      operation: "after paint",
    }),
  },
  {
    ...C41,
    file: "bad-readings.csv",
    story:
      "Slips of the pen: a decimal sign forgotten, two digits swapped, a unit written along, a comma. Nothing is judged.",
    exitCode: 1,
    characteristic: null,
    heldBatch: null,
    batches: ["PM-2611-A"],
    framesPerBatch: 20,
    style: PLAIN,
    at: (_frame, _batch, process, measuring) => ({ process, measuring }),
    spoil: (text) =>
      [
        [4, "ds.bore.2@12-6", "40975"],
        [7, "nds.bore.8@3-9", "49.075"],
        [9, "width@12", "86.5 mm"],
        [12, "nds.sweep.2@45", "1204"],
        [15, "ds.bore.8@12-6", '"40,977"'],
      ].reduce((spoiled, [row, column, value]) => slip(spoiled, Number(row), String(column), String(value)), text),
  },
];

/** What the example files are and what the check says to each. */
export const EXAMPLE_FILES: readonly ExampleFile[] = RECIPES.map(
  ({ file, story, exitCode, characteristic, heldBatch }) => ({ file, story, exitCode, characteristic, heldBatch }),
);

const FIRST_FRAME_AT = Date.UTC(2026, 5, 1, 5, 0);
const SECONDS_A_FRAME = 240;
const FRAMES_A_SHIFT = 60;

/** Time of a frame: one every four minutes, sixty a shift, one shift a day, in central European summer time. */
function frameTime(frame: number): string {
  const day = Math.floor(frame / FRAMES_A_SHIFT);
  const ms = FIRST_FRAME_AT + day * 86_400_000 + (frame % FRAMES_A_SHIFT) * SECONDS_A_FRAME * 1000;
  return `${new Date(ms + 2 * 3_600_000).toISOString().slice(0, 19)}+02:00`;
}

function drawingOf(recipe: Recipe): ShellDrawing {
  const drawing = findDemonstrationDrawing(recipe.drawing);
  if (!drawing) throw new Error(`exampleFileText: there is no drawing ${recipe.drawing}`);
  return drawing;
}

function frames(recipe: Recipe, drawing: ShellDrawing, names: readonly ReadingName[], seed: number): FileFrame[] {
  const random = createSeededGenerator(seed);
  const [process, measuring] = [steadyProcess(drawing), steadyMeasuring(drawing)];
  return recipe.batches.flatMap((batch, batchNumber) =>
    Array.from({ length: recipe.framesPerBatch }, (_, place): FileFrame => {
      const number = batchNumber * recipe.framesPerBatch + place;
      const now = recipe.at(number, batchNumber, process, measuring);
      const bare = drawShell(now.process, random);
      const shell = now.painted ? withPaintInBore(bare) : bare;
      return {
        serial: `${recipe.line}-${String(4001 + number).padStart(5, "0")}`,
        batch,
        line: recipe.line,
        drawing: recipe.drawing,
        operation: now.operation ?? "after machining",
        supplier: recipe.supplier,
        mould: now.mould ?? (recipe.line === "C41" ? "M1" : ""),
        tool: now.tool ?? (recipe.line === "C41" ? "R41-11" : "R46-04"),
        fixture: recipe.line === "C41" ? "FX-2" : "FX-5",
        measuredAt: frameTime(number),
        inspector: now.inspector ?? "J. Ostrand",
        gauge: now.gauge ?? (recipe.line === "C41" ? "BG-03" : "BG-05"),
        temperatureC: toDecimals(20.5 + 0.4 * random.normal(), 1),
        readings: measureShell(names, shell, drawing, now.measuring, random),
      };
    }),
  );
}

/** The seed of the example files that are shipped. */
export const EXAMPLE_SEED = 41;

/**
 * The text of an example file: the same for the same seed, byte by byte.
 *
 * @param file - name from EXAMPLE_FILES
 * @throws Error for a file that is not one of them
 */
export function exampleFileText(file: string, seed = EXAMPLE_SEED): string {
  const recipe = RECIPES.find((candidate) => candidate.file === file);
  if (!recipe) throw new Error(`exampleFileText: there is no example file ${file}`);
  const drawing = drawingOf(recipe);
  const names = fullPlan(drawing);
  const text = measurementFileText(names, frames(recipe, drawing, names, seed), recipe.style);
  return recipe.spoil ? recipe.spoil(text) : text;
}
