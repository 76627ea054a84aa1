import type { ShellDrawing } from "../../core/metrology/shell-drawing";
import {
  createRecordReader,
  isEmptyRecord,
  type RecordFault,
  type Separator,
  UnreadableFileError,
} from "./csv-records";
import { type FileHeader, findSeparator, type FixedColumn, readFileHeader, type ReadingColumn } from "./file-header";
import type { ReadOptions } from "./file-inspection";
import type { FileProblem } from "./file-problem";
import { createInspectionRules } from "./inspection-rules";
import { createReadingRows } from "./reading-rows";
import { createFrameRows } from "./frame-rows";
import type { CellProblem, ReadingValue } from "./row-cells";
import type { RowSink } from "./row-sink";

export type ReadResult = {
  readonly header: FileHeader | null;
  readonly separator: Separator;
  /** Rows with content, without the header. */
  readonly rows: number;
  readonly inspections: number;
  /** The first problems by row, at most MOST_PROBLEMS; `problemCount` counts them all. */
  readonly problems: readonly FileProblem[];
  readonly problemCount: number;
  /** Rows that must not be used, each with what is wrong, as the column `error` says it. */
  readonly badRows: ReadonlyMap<number, string>;
  readonly warnings: readonly string[];
};

/** More problems than this are counted, not listed. */
export const MOST_PROBLEMS = 10_000;
const LONGEST_HEADER = 1_000_000;

type Collected = { problems: FileProblem[]; count: number; badRows: Map<number, string>; warnings: string[] };

function createSink(options: ReadOptions, collected: Collected): RowSink {
  return {
    report(row: number, problem: CellProblem): void {
      collected.count += 1;
      if (collected.problems.length < MOST_PROBLEMS) collected.problems.push({ file: options.file, row, ...problem });
      const text = [problem.column, problem.rule].filter((part) => part !== null).join(": ");
      const earlier = collected.badRows.get(row);
      collected.badRows.set(row, earlier === undefined ? text : `${earlier}; ${text}`);
    },
    spoil(row: number, why: string): void {
      if (!collected.badRows.has(row)) collected.badRows.set(row, why);
    },
    warn(text: string): void {
      collected.warnings.push(text);
    },
    inspection: options.onInspection,
  };
}

function faultProblem(fault: RecordFault, header: FileHeader): CellProblem {
  return { column: header.cells[fault.cell] ?? null, value: fault.value.slice(0, 80), rule: fault.rule, hint: null };
}

function cellCountProblem(cells: readonly string[], header: FileHeader, separator: Separator): CellProblem {
  const many = cells.length > header.columns.length;
  const hint =
    many && separator === "," ? "A decimal comma in a file separated by commas makes one cell too many." : null;
  return {
    column: null,
    value: `${cells.length} cells`,
    rule: `a row must have as many cells as the header, ${header.columns.length}`,
    hint,
  };
}

/** Files that were put one behind the other: said once, not once a column. */
const HEADER_AGAIN: CellProblem = {
  column: null,
  value: null,
  rule: "the header row must be there once, as row 1; this row repeats it",
  hint: "Were two files put one behind the other?",
};

function repeatsHeader(cells: readonly string[], { cells: names }: FileHeader): boolean {
  return cells.length === names.length && cells.every((cell, index) => cell.trim() === names[index]);
}

/** Splits off the header row: the position of the first line break outside quotes, or -1. */
function headerEnd(text: string): number {
  let quoted = false;
  for (let index = 0; index < text.length; index += 1) {
    const sign = text[index];
    if (sign === '"') quoted = !quoted;
    else if (!quoted && (sign === "\n" || sign === "\r")) return index;
  }
  return -1;
}

function assertText(bytes: Uint8Array): void {
  const [a, b] = bytes;
  if ((a === 0xff && b === 0xfe) || (a === 0xfe && b === 0xff))
    throw new UnreadableFileError(1, null, "the file must be UTF-8 text; this one is UTF-16: save it as CSV UTF-8");
  if (a === 0x50 && b === 0x4b)
    throw new UnreadableFileError(
      1,
      null,
      "the file must be CSV text; this one is a workbook or an archive: save it as CSV",
    );
  if (bytes.subarray(0, 4096).includes(0))
    throw new UnreadableFileError(1, null, "the file must be UTF-8 text; this one holds zero bytes");
}

type Reader = { push: (text: string) => void; end: () => void; rowNow: () => number };

/** The reader of the rows: finds the separator at the first row, then deals with row after row. */
function createReader(options: ReadOptions, sink: RowSink, state: ReaderState): Reader {
  let pending = "";
  let records: ReturnType<typeof createRecordReader> | null = null;
  let rows: ReturnType<typeof createFrameRows> | null = null;

  function takeHeader(cells: string[], fault: RecordFault | null): void {
    const header = readFileHeader(cells);
    state.header = header;
    if (fault) sink.report(1, faultProblem(fault, header));
    for (const problem of header.problems) sink.report(1, problem);
    for (const warning of header.warnings) sink.warn(warning);
    if (fault || header.problems.length > 0) return;
    options.onHeader?.(header, state.separator);
    const rules = createInspectionRules(options, sink);
    const settings = { header, separator: state.separator, zone: options.zone, rules, sink };
    rows = header.shape === "row per frame" ? createFrameRows(settings) : createReadingRows(settings);
    state.rules = rules;
  }

  function takeRow(cells: string[], row: number, fault: RecordFault | null): void {
    state.row = row;
    if (row === 1) return takeHeader(cells, fault);
    const header = state.header;
    if (!header || !rows || isEmptyRecord(cells)) return;
    state.rows += 1;
    options.onRow?.(cells, row);
    if (options.skipRows?.has(row)) return;
    if (fault) sink.report(row, faultProblem(fault, header));
    else if (repeatsHeader(cells, header)) sink.report(row, HEADER_AGAIN);
    else if (cells.length !== header.columns.length) sink.report(row, cellCountProblem(cells, header, state.separator));
    else rows.take(cells, row);
  }

  function start(firstRow: string): void {
    state.separator = findSeparator(firstRow);
    records = createRecordReader(state.separator, takeRow);
    const text = pending;
    pending = "";
    records.push(text);
  }

  function push(text: string): void {
    if (records) return records.push(text);
    pending += text;
    const end = headerEnd(pending);
    if (end >= 0) start(pending.slice(0, end));
    else if (pending.length > LONGEST_HEADER)
      throw new UnreadableFileError(1, pending.slice(0, 40), "the header row must end within a million characters");
  }

  function end(): void {
    if (!records) start(pending);
    records?.end();
    rows?.end();
  }

  return { push, end, rowNow: () => state.row };
}

type ReaderState = {
  header: FileHeader | null;
  separator: Separator;
  row: number;
  rows: number;
  rules: ReturnType<typeof createInspectionRules> | null;
};

/**
 * Reads a measurement file (CSV, one row per frame or one row per reading) piece by piece, in memory that grows with the
 * number of frames by a few bytes each, not with the text. Nothing is thrown for what is wrong in the file: every problem is
 * returned with its row, column, value and rule. A row is what a spreadsheet shows as a row; the header is row 1.
 *
 * Inspections are handed over as they are complete: with a row per frame at once, with a row per reading at the end.
 * A problem may concern a row whose inspection was handed over before, so a caller that must not act on a file with errors
 * reads it twice, the second time with the bad rows in `skipRows`.
 *
 * @param chunks - the bytes of the file, in pieces of any size
 */
export async function readMeasurementFile(
  chunks: AsyncIterable<Uint8Array> | Iterable<Uint8Array>,
  options: ReadOptions,
): Promise<ReadResult> {
  const collected: Collected = { problems: [], count: 0, badRows: new Map(), warnings: [] };
  const sink = createSink(options, collected);
  const state: ReaderState = { header: null, separator: ",", row: 0, rows: 0, rules: null };
  const reader = createReader(options, sink, state);
  const decoder = new TextDecoder("utf-8", { fatal: true });
  let bytes = 0;
  try {
    for await (const chunk of chunks) {
      if (bytes === 0) assertText(chunk);
      bytes += chunk.length;
      reader.push(decode(decoder, chunk, state.row + 1));
      await options.onProgress?.(state.rows, bytes);
    }
    reader.push(decode(decoder, null, state.row + 1));
    reader.end();
  } catch (error) {
    if (!(error instanceof UnreadableFileError)) throw error;
    sink.report(error.row, { column: null, value: error.value, rule: error.message, hint: null });
  }
  finishWarnings(state, collected, options);
  collected.problems.sort((a, b) => (a.row ?? 0) - (b.row ?? 0));
  return {
    header: state.header,
    separator: state.separator,
    rows: state.rows,
    inspections: state.rules?.inspections() ?? 0,
    problems: collected.problems,
    problemCount: collected.count,
    badRows: collected.badRows,
    warnings: collected.warnings,
  };
}

function decode(decoder: TextDecoder, chunk: Uint8Array | null, row: number): string {
  try {
    return chunk === null ? decoder.decode() : decoder.decode(chunk, { stream: true });
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw new UnreadableFileError(
      row,
      null,
      "the file must be UTF-8 text; bytes that are not UTF-8 were found after this row",
    );
  }
}

function finishWarnings(state: ReaderState, collected: Collected, options: ReadOptions): void {
  if (collected.count === 0 && state.rows === 0 && options.skipRows === undefined) {
    const rule =
      state.header === null || state.row === 0 ? "the file must not be empty" : "there must be rows below the header";
    collected.problems.push({ file: options.file, row: null, column: null, value: null, rule, hint: null });
    collected.count += 1;
  }
  collected.warnings.push(...(state.rules?.warnings() ?? []));
}
