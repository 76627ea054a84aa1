import type { ReactNode } from "react";
import { CardFold } from "./card-fold";
import { keepWhole } from "./keep-whole";
import { UI_WORDS } from "./words";
import styles from "./table.module.css";

const words = UI_WORDS.dataTable;

/** A column of rows of one kind: how its cell follows from the row. */
export type TableColumn<Row> = Readonly<{
  key: string;
  /** Head of the column, and beside the value where a row is a card. */
  label: string;
  /** A count is a short whole number: two stand side by side on a card. */
  kind?: "text" | "numeric" | "count" | "code";
  cell: (row: Row) => ReactNode;
}>;

type DataTableProps<Row> = Readonly<{
  caption: string;
  captionHidden?: boolean;
  columns: readonly TableColumn<Row>[];
  rows: readonly Row[];
  rowKey: (row: Row, index: number) => string;
  /** Column that names the row. */
  rowHead: string;
  csvHref?: string;
  /** What is shown of how much, as "48 of 6000 frames". */
  count?: ReactNode;
  more?: ReactNode;
  /** Instead of the rows when there are none. */
  empty?: ReactNode;
}>;

/** Cards that a phone shows of a table at first. */
const FIRST_CARDS = 20;

const CELL_CLASS = {
  text: undefined,
  numeric: styles.numeric,
  count: `${styles.numeric} ${styles.count}`,
  code: styles.code,
} as const;

/** Rows under columns; on a phone each row is a card: its head as the title, then a label and a value to a line; cards beyond the first are a key away. */
export function DataTable<Row>({
  caption,
  captionHidden,
  columns,
  rows,
  rowKey,
  rowHead,
  csvHref,
  count,
  more,
  empty,
}: DataTableProps<Row>) {
  if (rows.length === 0 && empty) return empty;
  return (
    <CardFold later={Math.max(0, rows.length - FIRST_CARDS)} all={rows.length}>
      <div className={styles.scroll} tabIndex={0} role="region" aria-label={caption}>
        <table className={styles.table}>
          <caption className={captionHidden ? "visuallyHidden" : undefined}>{caption}</caption>
          <thead>
            <tr>
              {columns.map((column) => (
                <th
                  key={column.key}
                  scope="col"
                  className={column.kind === "code" ? undefined : CELL_CLASS[column.kind ?? "text"]}
                >
                  {column.label}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row, index) => (
              <tr key={rowKey(row, index)} data-later={index < FIRST_CARDS ? undefined : ""}>
                {columns.map((column) =>
                  column.key === rowHead ? (
                    <th key={column.key} scope="row" className={CELL_CLASS[column.kind ?? "text"]}>
                      {keepWhole(column.cell(row))}
                    </th>
                  ) : (
                    <td key={column.key} data-label={column.label} className={CELL_CLASS[column.kind ?? "text"]}>
                      {keepWhole(column.cell(row))}
                    </td>
                  ),
                )}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {count || csvHref || more ? (
        <p className={styles.foot}>
          <span>{keepWhole(count)}</span>
          {more}
          {csvHref ? (
            <a href={csvHref} download>
              {words.saveAsCsv}
            </a>
          ) : null}
        </p>
      ) : null}
    </CardFold>
  );
}
