import type { ReadingKind } from "../../core/metrology/reading-name";
import { implausibleReadings, type ReadingQuestion } from "../../core/metrology/reading-plausibility";
import type { ShellDrawing } from "../../core/metrology/shell-drawing";
import type { ReadingColumn } from "./file-header";
import type { CellProblem, ReadingValue } from "./row-cells";

const WHAT_IT_IS_NEAR = {
  bore: "the nominal bore",
  width: "the nominal width",
  sweep: "its sweep's median",
  face: "its sweep's median",
  plug: "its size",
  bar: "its size",
} as const satisfies Record<ReadingKind, string>;

const SLIP_WORDS = {
  "missing decimal sign": "The decimal sign may be missing",
  "misplaced decimal sign": "The decimal sign may be in the wrong place",
  "swapped digits": "Two digits may be swapped",
  "decimals only": "The whole millimetres may be missing",
} as const;

function problemOf(column: ReadingColumn, value: number, question: ReadingQuestion): CellProblem {
  const { expected, reach, unit, slip } = question;
  return {
    column: column.header,
    value: String(value),
    rule: `a reading must lie within ${reach} ${unit} of ${WHAT_IT_IS_NEAR[column.name.kind]}, ${expected} ${unit}`,
    hint: slip === null ? null : `${SLIP_WORDS[slip.kind]}: ${slip.value} ${unit} would fit.`,
  };
}

/**
 * The readings of one inspection that cannot be true, by the same rule as at the station (in a file there is nobody to
 * confirm them, so they are errors), and those of sections that the seat does not have.
 *
 * @param columns - the readings' names
 * @param values - their values in the same order
 */
export function implausibleCells(
  columns: readonly ReadingColumn[],
  values: readonly ReadingValue[],
  drawing: ShellDrawing,
): { readonly index: number; readonly problem: CellProblem }[] {
  const numbers = values.map((value) => (typeof value === "number" ? value : null));
  const names = columns.map((column) => column.name);
  const outside = columns.flatMap((column, index) => {
    const { name, header } = column;
    const value = numbers[index] ?? null;
    if (value === null || !("depthMm" in name) || name.depthMm <= drawing.seatDepthMm) return [];
    const rule = `a section must lie inside the seat, at most ${drawing.seatDepthMm} mm deep`;
    return [{ index, problem: { column: header, value: String(value), rule, hint: null } }];
  });
  if (outside.length > 0) return outside;
  return implausibleReadings(drawing, names, numbers).flatMap(({ index, question }) => {
    const [column, value] = [columns[index], numbers[index]];
    return column && typeof value === "number" ? [{ index, problem: problemOf(column, value, question) }] : [];
  });
}
