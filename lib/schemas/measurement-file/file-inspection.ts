import type { ShellDrawing } from "../../core/metrology/shell-drawing";
import type { Separator } from "./csv-records";
import type { FileHeader, FixedColumn, ReadingColumn } from "./file-header";
import type { ReadingValue } from "./row-cells";

/** One inspection of a measurement file. Values follow `columns`; null stands for a reading that was not taken. */
export type FileInspection = {
  /** Row of the file (the header is row 1), or the first of its rows. */
  readonly row: number;
  readonly serial: string;
  readonly texts: Readonly<Partial<Record<FixedColumn, string>>>;
  readonly drawing: ShellDrawing;
  /** ms since 1970 UTC. */
  readonly measuredAt: number | null;
  readonly temperatureC: number | null;
  readonly columns: readonly ReadingColumn[];
  readonly values: readonly ReadingValue[];
};

export type ReadOptions = {
  /** Name of the file as problems name it. */
  readonly file: string;
  readonly findDrawing: (key: string) => ShellDrawing | null;
  readonly knownDrawings: readonly string[];
  /** Drawing of every row, where the caller says it; a row that names another is an error. */
  readonly drawing: ShellDrawing | null;
  /** Zone of times without an offset: IANA name or offset; null for UTC with a warning. */
  readonly zone: string | null;
  /** Rows to leave out: what an earlier pass found wrong. */
  readonly skipRows?: ReadonlySet<number>;
  /** Times later than this are warned about; ms since 1970 UTC. */
  readonly nowMs?: number;
  readonly onHeader?: (header: FileHeader, separator: Separator) => void;
  /** Gets the cells of every row that is not empty, skipped ones included. */
  readonly onRow?: (cells: readonly string[], row: number) => void;
  readonly onInspection: (inspection: FileInspection) => void;
  readonly onProgress?: (rows: number, bytes: number) => void | Promise<void>;
};
