import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import { FIXED_COLUMNS, type FixedColumn, parseReadingColumn, type ReadingColumn } from "./file-header";
import type { FileInspection } from "./file-inspection";
import type { RowSettings, RowTaker } from "./frame-rows";
import { type CellProblem, type FixedCells, parseReadingCell, readFixedCells, type ReadingValue } from "./row-cells";

/** Columns that may differ between the rows of one inspection. */
const MAY_DIFFER = new Set<FixedColumn>([
  "measured_at",
  "temperature_c",
  "gauge",
  "gauge.bore",
  "gauge.sweep",
  "gauge.face",
  "gauge.width",
  "gauge.plug",
  "gauge.bar",
]);
const MUST_AGREE = FIXED_COLUMNS.filter((column) => !MAY_DIFFER.has(column));

/** One inspection while its rows come in. Values and rows by the number of the reading's column. */
type Open = {
  fixed: FixedCells;
  values: ReadingValue[];
  rowOf: number[];
  /** Decimals of each reading as written. */
  decimals: number[];
  rows: number[];
  culprit: number | null;
};

/** A copy of a text that does not keep the piece of the file alive from which it was cut. */
function detached(text: string): string {
  return String.fromCharCode(...Array.from({ length: text.length }, (_, index) => text.charCodeAt(index)));
}

function detachedCells(fixed: FixedCells): FixedCells {
  const texts: Partial<Record<FixedColumn, string>> = {};
  for (const column of FIXED_COLUMNS) {
    const text = fixed.texts[column];
    if (text !== undefined) texts[column] = detached(text);
  }
  return { ...fixed, serial: detached(fixed.serial), texts };
}

function sameValue(a: ReadingValue, b: ReadingValue): boolean {
  return typeof a === "object" || typeof b === "object" ? JSON.stringify(a) === JSON.stringify(b) : a === b;
}

/**
 * Rows of the shape "one row per reading". Rows with the same serial, operation and `inspection` are one inspection;
 * without `inspection`, the same time. Rows may come in any order, so inspections are complete only at the end: the
 * numbers are held, the text is not. One bad row spoils its inspection.
 */
export function createReadingRows({ header, separator, zone, rules, sink }: RowSettings): RowTaker {
  const whatAt = header.columns.findIndex((meaning) => meaning.kind === "what");
  const valueAt = header.columns.findIndex((meaning) => meaning.kind === "value");
  const columns: ReadingColumn[] = [];
  const numberByKey = new Map<string, number>();
  const bySpelling = new Map<string, number>();
  const inspections = new Map<string, Open>();

  /** Number of the column that `what` names, or what is wrong with it. */
  function columnNumber(what: string): number | CellProblem {
    const known = bySpelling.get(what);
    if (known !== undefined) return known;
    const parsed = parseReadingColumn(what);
    if (!parsed.ok) return { column: "what", value: what.slice(0, 80), rule: parsed.rule, hint: parsed.hint };
    const { key, name } = parsed.reading;
    const number = numberByKey.get(key) ?? columns.push({ header: detached(what), key, name }) - 1;
    numberByKey.set(key, number);
    bySpelling.set(detached(what), number);
    return number;
  }

  function inspectionOf(fixed: FixedCells): Open {
    const { operation = "", inspection } = fixed.texts;
    const which = inspection === undefined ? `t${fixed.measuredAt ?? ""}` : `i${inspection}`;
    const key = [fixed.serial, operation, which].join("\u0000");
    const known = inspections.get(key);
    if (known) return known;
    const open: Open = { fixed: detachedCells(fixed), values: [], rowOf: [], decimals: [], rows: [], culprit: null };
    inspections.set(key, open);
    return open;
  }

  /** Adds what this row knows about the inspection; a contradiction is a problem. */
  function merge(open: Open, fixed: FixedCells): CellProblem | null {
    const texts = { ...open.fixed.texts };
    let changed = false;
    for (const column of FIXED_COLUMNS) {
      const text = fixed.texts[column];
      if (text === undefined || text === texts[column]) continue;
      if (texts[column] === undefined) {
        texts[column] = detached(text);
        changed = true;
      } else if (MUST_AGREE.includes(column)) {
        const rule = `the rows of one inspection must agree; an earlier row says ${texts[column]}`;
        return { column, value: text, rule, hint: null };
      }
    }
    const measuredAt = Math.max(open.fixed.measuredAt ?? -Infinity, fixed.measuredAt ?? -Infinity);
    if (changed || measuredAt !== (open.fixed.measuredAt ?? -Infinity)) {
      open.fixed = { ...open.fixed, texts, measuredAt: Number.isFinite(measuredAt) ? measuredAt : null };
    }
    return null;
  }

  function store(open: Open, number: number, value: ReadingValue, text: string, row: number): CellProblem | null {
    if (value === null) return null;
    const earlier = open.values[number];
    if (earlier !== undefined && !sameValue(earlier, value)) {
      const rule = `a reading must have one value in one inspection; row ${open.rowOf[number]} has another`;
      return { column: columns[number]?.header ?? "what", value: text, rule, hint: null };
    }
    open.values[number] = value;
    open.rowOf[number] = row;
    open.decimals[number] = /[.,](\d*)$/.exec(text)?.[1]?.length ?? 0;
    return null;
  }

  function take(cells: readonly string[], row: number): void {
    const problems: CellProblem[] = [];
    const fixed = readFixedCells(cells, header.columns, { separator, zone }, problems);
    const what = (cells[whatAt] ?? "").trim();
    const number = columnNumber(what);
    const text = (cells[valueAt] ?? "").trim();
    let value: ReadingValue = null;
    if (typeof number !== "number") {
      problems.push(number);
    } else {
      const name = columns[number]?.name;
      const read = name ? parseReadingCell(name, text, separator) : null;
      if (read?.ok) value = read.value;
      else if (read) problems.push({ column: what, value: text.slice(0, 80), rule: read.rule, hint: read.hint });
    }
    if (fixed.serial === "" || problems.some((problem) => problem.column === "measured_at")) {
      for (const problem of problems) sink.report(row, problem);
      return;
    }
    const open = inspectionOf(fixed);
    open.rows.push(row);
    if (problems.length === 0 && typeof number === "number") {
      const problem = merge(open, fixed) ?? store(open, number, value, text, row);
      if (problem) problems.push(problem);
    }
    for (const problem of problems) sink.report(row, problem);
    if (problems.length > 0) open.culprit ??= row;
  }

  function finish(open: Open): void {
    if (open.culprit !== null) {
      for (const row of open.rows) sink.spoil(row, `goes with row ${open.culprit}, which has an error`);
      return;
    }
    const values = columns.map((_, index) => open.values[index] ?? null);
    const rowOf = (index: number) => open.rowOf[index] ?? open.rows[0] ?? 0;
    const textOf = (index: number) => {
      const value = open.values[index];
      return typeof value === "number" ? plainDecimals(value, open.decimals[index] ?? 0) : String(value);
    };
    rules.take({ fixed: open.fixed, columns, values, rows: open.rows, rowOf, textOf });
  }

  function end(): void {
    for (const open of inspections.values()) finish(open);
    inspections.clear();
  }

  return { take, end };
}
