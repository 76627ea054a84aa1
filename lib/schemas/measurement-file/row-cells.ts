import type { BarPassage, PlugFeel, ReadingName } from "../../core/metrology/reading-name";
import { type CellResult, parseBarCell, parseNumberCell, parsePlugCell, parseTemperatureCell } from "./cell-values";
import type { Separator } from "./csv-records";
import type { ColumnMeaning, FixedColumn } from "./file-header";
import { parseMeasuredAt } from "./measured-at";
import { unguardedText } from "../csv-row";

/** What one reading cell says: a number, a feel, a passage; null for an empty cell. */
export type ReadingValue = number | PlugFeel | BarPassage | null;

/** A fault of one cell, before the row and the file are added. */
export type CellProblem = {
  readonly column: string | null;
  readonly value: string | null;
  readonly rule: string;
  readonly hint: string | null;
};

/** The fixed columns of a row, read. */
export type FixedCells = {
  readonly serial: string;
  readonly texts: Readonly<Partial<Record<FixedColumn, string>>>;
  readonly measuredAt: number | null;
  readonly assumedTime: "utc" | "earlier-of-two" | null;
  readonly temperatureC: number | null;
};

const LONGEST_SERIAL = 64;
const LONGEST_TEXT = 200;
/** The column "inspection" takes any text, a remark for instance. */
const LONGEST_INSPECTION = 2000;

/** Reads the cell of a reading by the rules of its kind. */
export function parseReadingCell(name: ReadingName, text: string, separator: Separator): CellResult<ReadingValue> {
  const trimmed = text.trim();
  if (trimmed === "") return { ok: true, value: null };
  if (name.kind === "plug") return parsePlugCell(trimmed);
  if (name.kind === "bar") return parseBarCell(trimmed);
  return parseNumberCell(trimmed, separator);
}

function textProblem(column: FixedColumn, text: string): CellProblem | null {
  const longest = column === "serial" ? LONGEST_SERIAL : column === "inspection" ? LONGEST_INSPECTION : LONGEST_TEXT;
  const problem = (rule: string): CellProblem => ({ column, value: text.slice(0, 80), rule, hint: null });
  if (text.length > longest) return problem(`${column} must have at most ${longest} characters`);
  if ([...text].some((sign) => sign < " "))
    return problem(`${column} must be one line of text without control characters`);
  return null;
}

/** The text of a cell. A line break or a tab in a quoted text is a space; in a serial it stays, and is refused. */
function textOf(column: FixedColumn, cell: string): string {
  const text = unguardedText(cell).trim();
  return column === "serial" ? text : text.replaceAll(/[\t\r\n]+/g, " ");
}

/**
 * Reads the fixed cells of a row; every problem found is added to `problems`.
 *
 * @param zone - time zone of times without an offset, null for UTC
 */
export function readFixedCells(
  cells: readonly string[],
  columns: readonly ColumnMeaning[],
  options: { readonly separator: Separator; readonly zone: string | null },
  problems: CellProblem[],
): FixedCells {
  const texts: Partial<Record<FixedColumn, string>> = {};
  let measuredAt: number | null = null;
  let assumedTime: FixedCells["assumedTime"] = null;
  let temperatureC: number | null = null;
  for (const [index, meaning] of columns.entries()) {
    if (meaning.kind !== "fixed") continue;
    const text = textOf(meaning.column, cells[index] ?? "");
    if (text === "") continue;
    const problem = textProblem(meaning.column, text);
    if (problem) {
      problems.push(problem);
    } else if (meaning.column === "measured_at") {
      const time = parseMeasuredAt(text, options.zone);
      if (time.ok) [measuredAt, assumedTime] = [time.value.epochMs, time.value.assumed];
      else problems.push({ column: meaning.column, value: text, rule: time.rule, hint: time.hint });
    } else if (meaning.column === "temperature_c") {
      const temperature = parseTemperatureCell(text, options.separator);
      if (temperature.ok) temperatureC = temperature.value;
      else problems.push({ column: meaning.column, value: text, rule: temperature.rule, hint: temperature.hint });
    } else {
      texts[meaning.column] = text;
    }
  }
  if (texts.serial === undefined && !problems.some((problem) => problem.column === "serial"))
    problems.push({ column: "serial", value: "", rule: "serial must be there in every row", hint: null });
  return { serial: texts.serial ?? "", texts, measuredAt, assumedTime, temperatureC };
}
