import type { ShellDrawing } from "../../core/metrology/shell-drawing";
import type { ReadingColumn } from "./file-header";
import type { FileInspection, ReadOptions } from "./file-inspection";
import { createFingerprint, createKeyTable, nameHash } from "./key-table";
import { implausibleCells } from "./row-plausibility";
import type { CellProblem, FixedCells, ReadingValue } from "./row-cells";
import type { RowSink } from "./row-sink";

/** An inspection that was read but not yet held against the rules that look beyond its cells. */
export type InspectionCandidate = {
  readonly fixed: FixedCells;
  readonly columns: readonly ReadingColumn[];
  readonly values: readonly ReadingValue[];
  /** Every row of the inspection. */
  readonly rows: readonly number[];
  /** Row of one reading, by its place in `columns`. */
  readonly rowOf: (index: number) => number;
  /** One reading as it was written. */
  readonly textOf: (index: number) => string;
};

export type InspectionRules = {
  /** Holds an inspection against the rules and hands it over, or reports what is wrong with it. */
  readonly take: (candidate: InspectionCandidate) => void;
  readonly inspections: () => number;
  readonly warnings: () => string[];
};

/** Numbers names that many rows share. */
function createNameList(): { numberOf: (name: string) => number; nameOf: (number: number) => string } {
  const numbers = new Map<string, number>();
  const list: string[] = [];
  return {
    numberOf(name) {
      const known = numbers.get(name);
      if (known !== undefined) return known;
      numbers.set(name, list.length);
      return list.push(name) - 1;
    },
    nameOf: (number) => list[number] ?? "",
  };
}

/** Repeated warnings of one kind are counted; the first row is named. */
function createTally(): { add: (row: number) => void; text: (write: (rows: string) => string) => string[] } {
  let count = 0;
  let first = 0;
  return {
    add(row) {
      if (count === 0) first = row;
      count += 1;
    },
    text(write) {
      if (count === 0) return [];
      return [write(count === 1 ? `row ${first}` : `${count} rows, the first is row ${first}`)];
    },
  };
}

const columnHashes = new WeakMap<ReadingColumn, number>();

function columnHash(column: ReadingColumn): number {
  const known = columnHashes.get(column);
  if (known !== undefined) return known;
  const hash = nameHash(column.key);
  columnHashes.set(column, hash);
  return hash;
}

/** One number for all values of an inspection, whatever their order. */
function valuesPrint(candidate: InspectionCandidate): number {
  const print = createFingerprint();
  for (const [index, column] of candidate.columns.entries()) {
    const value = candidate.values[index];
    if (value === null || value === undefined) continue;
    print.add(columnHash(column), typeof value === "object" ? JSON.stringify(value) : value);
  }
  return print.value();
}

/**
 * The rules of a measurement file that look beyond one cell: the drawing, plausible readings, one batch and drawing for a
 * serial, and same serial, operation and time meaning the same inspection.
 */
export function createInspectionRules(options: ReadOptions, sink: RowSink): InspectionRules {
  const serials = createKeyTable();
  const times = createKeyTable();
  const names = createNameList();
  const serialBatch: number[] = [];
  const serialDrawing: number[] = [];
  const serialRow: number[] = [];
  const timeRows: number[] = [];
  const timeValues: number[] = [];
  const withoutOffset = createTally();
  const ambiguous = createTally();
  const future = createTally();
  const repeated = createTally();
  const timeless = createTally();
  let timed = 0;
  let inspections = 0;

  function drawingOf(fixed: FixedCells): ShellDrawing | CellProblem {
    const key = fixed.texts.drawing;
    const known = `the known ones are ${options.knownDrawings.join(", ")}`;
    if (options.drawing) {
      if (key === undefined || key === options.drawing.key) return options.drawing;
      const rule = `the drawing must be the one asked for, ${options.drawing.key}`;
      return { column: "drawing", value: key, rule, hint: null };
    }
    if (key === undefined) {
      const rule = `every row must name its drawing unless the caller does (--drawing); ${known}`;
      return { column: "drawing", value: null, rule, hint: null };
    }
    return (
      options.findDrawing(key) ?? {
        column: "drawing",
        value: key,
        rule: `the drawing must be known; ${known}`,
        hint: null,
      }
    );
  }

  function belongingProblem(
    fixed: FixedCells,
    drawing: ShellDrawing,
    row: number,
  ): { problem: CellProblem; other: number } | null {
    const number = serials.numberOf(fixed.serial);
    const batch = fixed.texts.batch ?? "";
    const [batchNumber, drawingNumber] = [names.numberOf(batch), names.numberOf(drawing.key)];
    const other = serialRow[number];
    if (other === undefined) {
      serialBatch[number] = batchNumber;
      serialDrawing[number] = drawingNumber;
      serialRow[number] = row;
      return null;
    }
    const named = (text: string) => (text === "" ? "no batch" : `batch ${text}`);
    if (serialBatch[number] !== batchNumber) {
      const before = named(names.nameOf(serialBatch[number] ?? 0));
      const rule = `a serial must stay in its batch: ${fixed.serial} is of ${before} in row ${other}`;
      return { problem: { column: "batch", value: batch, rule, hint: null }, other };
    }
    if (serialDrawing[number] !== drawingNumber) {
      const before = names.nameOf(serialDrawing[number] ?? 0);
      const rule = `a serial must stay with its drawing: ${fixed.serial} is of ${before} in row ${other}`;
      return { problem: { column: "drawing", value: drawing.key, rule, hint: null }, other };
    }
    return null;
  }

  /** "new", "repeat" of the same values, or the row that says something else. */
  function occurrence(candidate: InspectionCandidate, row: number): "new" | "repeat" | number {
    const { fixed } = candidate;
    // Where no time is written, the name of the inspection tells two of them apart.
    const time = fixed.measuredAt === null ? `inspection ${fixed.texts.inspection ?? ""}` : String(fixed.measuredAt);
    const number = times.numberOf([fixed.serial, fixed.texts.operation ?? "", time].join("\u0000"));
    const print = valuesPrint(candidate);
    const earlier = timeRows[number];
    if (earlier === undefined) {
      timeRows[number] = row;
      timeValues[number] = print;
      return "new";
    }
    return timeValues[number] === print ? "repeat" : earlier;
  }

  function spoilRows(candidate: InspectionCandidate, culprit: number): void {
    for (const row of candidate.rows) sink.spoil(row, `goes with row ${culprit}, which has an error`);
  }

  function refuse(candidate: InspectionCandidate, row: number, problem: CellProblem): void {
    sink.report(row, problem);
    spoilRows(candidate, row);
  }

  function noteTime(fixed: FixedCells, row: number): void {
    if (fixed.assumedTime === "utc") withoutOffset.add(row);
    if (fixed.assumedTime === "earlier-of-two") ambiguous.add(row);
    if (fixed.measuredAt === null) timeless.add(row);
    else timed += 1;
    if (fixed.measuredAt !== null && options.nowMs !== undefined && fixed.measuredAt > options.nowMs) future.add(row);
  }

  function take(candidate: InspectionCandidate): void {
    const { fixed } = candidate;
    const row = candidate.rows[0] ?? 0;
    const drawing = drawingOf(fixed);
    if ("rule" in drawing) return refuse(candidate, row, drawing);
    // Rows that a first pass found good need not be asked about again.
    const implausible = options.skipRows ? [] : implausibleCells(candidate.columns, candidate.values, drawing);
    for (const { index, problem } of implausible)
      refuse(candidate, candidate.rowOf(index), { ...problem, value: candidate.textOf(index) });
    if (implausible.length > 0) return;
    const belonging = belongingProblem(fixed, drawing, row);
    if (belonging) {
      sink.spoil(belonging.other, `contradicts row ${row}`);
      return refuse(candidate, row, belonging.problem);
    }
    const found = occurrence(candidate, row);
    if (found === "repeat") return repeated.add(row);
    if (found !== "new") {
      sink.spoil(found, `contradicts row ${row}`);
      const rule = `the same serial, operation and time must carry the same values; row ${found} has others`;
      return refuse(candidate, row, { column: "serial", value: fixed.serial, rule, hint: null });
    }
    noteTime(fixed, row);
    inspections += 1;
    const { serial, texts, measuredAt, temperatureC } = fixed;
    const { columns, values } = candidate;
    sink.inspection({
      row,
      serial,
      texts,
      drawing,
      measuredAt,
      temperatureC,
      columns,
      values,
    } satisfies FileInspection);
  }

  function warnings(): string[] {
    return [
      ...withoutOffset.text(
        (rows) => `measured_at has no offset from UTC and no --zone was given: taken as UTC (${rows}).`,
      ),
      ...ambiguous.text(
        (rows) => `measured_at occurs twice when the clocks go back: the earlier one was taken (${rows}).`,
      ),
      ...future.text((rows) => `measured_at lies in the future by this machine's clock (${rows}).`),
      ...repeated.text((rows) => `The same inspection appears again with the same values: counted once (${rows}).`),
      ...(timed > 0
        ? timeless.text(
            (rows) => `measured_at is missing: charted after the last frame before it in the file (${rows}).`,
          )
        : timeless.text((rows) => `measured_at is missing: charts follow the order of the file (${rows}).`)),
    ];
  }

  return { take, inspections: () => inspections, warnings };
}
