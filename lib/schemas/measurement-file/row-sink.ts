import type { FileInspection } from "./file-inspection";
import type { CellProblem } from "./row-cells";

/** Where rows report to. */
export type RowSink = {
  /** A problem of a row; the row is bad. */
  readonly report: (row: number, problem: CellProblem) => void;
  /** A row that is bad because of another row. */
  readonly spoil: (row: number, why: string) => void;
  readonly warn: (text: string) => void;
  readonly inspection: (inspection: FileInspection) => void;
};
