import type { Separator } from "./csv-records";
import type { FileHeader, ReadingColumn } from "./file-header";
import type { InspectionRules } from "./inspection-rules";
import { type CellProblem, parseReadingCell, readFixedCells, type ReadingValue } from "./row-cells";
import type { RowSink } from "./row-sink";

export type RowSettings = {
  readonly header: FileHeader;
  readonly separator: Separator;
  readonly zone: string | null;
  readonly rules: InspectionRules;
  readonly sink: RowSink;
};

/** Takes the rows of one shape of the file, one by one. */
export type RowTaker = { readonly take: (cells: readonly string[], row: number) => void; readonly end: () => void };

/** Rows of the shape "one row per frame": each row is an inspection. */
export function createFrameRows({ header, separator, zone, rules, sink }: RowSettings): RowTaker {
  const places: number[] = [];
  const columns: ReadingColumn[] = [];
  for (const [index, meaning] of header.columns.entries()) {
    if (meaning.kind !== "reading") continue;
    places.push(index);
    columns.push(meaning.reading);
  }

  function take(cells: readonly string[], row: number): void {
    const problems: CellProblem[] = [];
    const fixed = readFixedCells(cells, header.columns, { separator, zone }, problems);
    const values: ReadingValue[] = [];
    for (const [index, column] of columns.entries()) {
      const text = cells[places[index] ?? -1] ?? "";
      const value = parseReadingCell(column.name, text, separator);
      values.push(value.ok ? value.value : null);
      if (!value.ok)
        problems.push({ column: column.header, value: text.trim().slice(0, 80), rule: value.rule, hint: value.hint });
    }
    for (const problem of problems) sink.report(row, problem);
    const textOf = (index: number) => (cells[places[index] ?? -1] ?? "").trim();
    if (problems.length === 0) rules.take({ fixed, columns, values, rows: [row], rowOf: () => row, textOf });
  }

  return { take, end: () => undefined };
}
