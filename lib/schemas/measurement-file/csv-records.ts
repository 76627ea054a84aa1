/** Column separators that a measurement file may use. */
export const SEPARATORS = [",", ";", "\t"] as const;

export type Separator = (typeof SEPARATORS)[number];

/** A cell longer than this is an opened quote that nobody closed. */
const LONGEST_CELL = 32_768;
/** More cells than this in one row is no measurement file. */
const MOST_CELLS = 5_000;

const QUOTE = 34;
const LF = 10;
const CR = 13;

/** What is wrong with the way a row is written (RFC 4180), and in which cell (from 0). */
export type RecordFault = { readonly cell: number; readonly value: string; readonly rule: string };

/** A fault after which nothing in the file can be trusted any more. */
export class UnreadableFileError extends Error {
  readonly row: number;
  readonly value: string | null;

  constructor(row: number, value: string | null, rule: string) {
    super(rule);
    this.name = "UnreadableFileError";
    this.row = row;
    this.value = value;
  }
}

export type RecordReader = {
  /** Takes the next piece of the text; pieces may end anywhere. */
  readonly push: (text: string) => void;
  /** Ends the text: a last row without a line break is a row. */
  readonly end: () => void;
};

/**
 * Reads comma-separated text (RFC 4180) piece by piece, holding no more than one row.
 *
 * A row is what a spreadsheet shows as a row: line breaks inside quotes belong to their row, empty lines count as rows.
 * Line breaks may be CR LF, LF or CR.
 *
 * @param separator - the column separator
 * @param onRecord - gets the cells, the row's number from 1, and the first fault of the row or null
 * @throws UnreadableFileError where a quote is never closed or a row never ends
 */
export function createRecordReader(
  separator: Separator,
  onRecord: (cells: string[], row: number, fault: RecordFault | null) => void,
): RecordReader {
  const separatorCode = separator.charCodeAt(0);
  let row = 1;
  let cells: string[] = [];
  let cell = "";
  let fault: RecordFault | null = null;
  let state: "start" | "plain" | "quoted" | "closed" = "start";
  let afterCr = false;
  let touched = false;

  function endCell(): void {
    cells.push(cell);
    if (cells.length > MOST_CELLS)
      throw new UnreadableFileError(row, null, `a row must have at most ${MOST_CELLS} cells`);
    cell = "";
    state = "start";
  }

  function endRecord(): void {
    endCell();
    const done = cells;
    const doneFault = fault;
    cells = [];
    fault = null;
    touched = false;
    onRecord(done, row, doneFault);
    row += 1;
  }

  function complain(rule: string): void {
    fault ??= { cell: cells.length, value: cell, rule };
  }

  function guardLength(): void {
    if (cell.length <= LONGEST_CELL) return;
    const rule =
      state === "quoted"
        ? "a quote that is opened must be closed; this one still was open after 32768 characters"
        : "a cell must have at most 32768 characters";
    throw new UnreadableFileError(row, cell.slice(0, 40), rule);
  }

  function pushQuoted(text: string, from: number): number {
    const close = text.indexOf('"', from);
    const end = close < 0 ? text.length : close;
    cell += text.slice(from, end);
    guardLength();
    if (close < 0) return text.length;
    state = "closed";
    return close + 1;
  }

  function pushPlain(text: string, from: number): number {
    let end = from;
    for (; end < text.length; end += 1) {
      const code = text.charCodeAt(end);
      if (code === separatorCode || code === LF || code === CR || code === QUOTE) break;
    }
    if (end > from) {
      if (state === "closed") complain("nothing may stand between a closing quote and the separator");
      cell += text.slice(from, end);
      state = "plain";
      guardLength();
    }
    return end;
  }

  function push(text: string): void {
    let at = 0;
    while (at < text.length) {
      if (state === "quoted") {
        at = pushQuoted(text, at);
        continue;
      }
      const code = text.charCodeAt(at);
      if (afterCr) {
        afterCr = false;
        if (code === LF) {
          at += 1;
          continue;
        }
      }
      touched = true;
      if (code === separatorCode) {
        endCell();
        at += 1;
      } else if (code === LF || code === CR) {
        afterCr = code === CR;
        endRecord();
        at += 1;
      } else if (code === QUOTE) {
        if (state === "closed") {
          cell += '"';
          state = "quoted";
        } else if (state === "start") {
          state = "quoted";
        } else {
          complain("a quote inside a cell must be doubled and the cell quoted");
          cell += '"';
        }
        at += 1;
      } else {
        at = pushPlain(text, at);
      }
    }
  }

  function end(): void {
    if (state === "quoted") {
      throw new UnreadableFileError(
        row,
        cell.slice(0, 40),
        "a quote that is opened must be closed before the file ends",
      );
    }
    if (touched) endRecord();
  }

  return { push, end };
}

/** True for a row without any content: an empty line, or the separators that a spreadsheet leaves of an emptied row. */
export function isEmptyRecord(cells: readonly string[]): boolean {
  return cells.every((cell) => cell.trim() === "");
}
