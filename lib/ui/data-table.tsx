import Link from "next/link";
import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import styles from "./table.module.css";

/** A column of rows of one kind: how its cell follows from the row. */
export type TableColumn<Row> = Readonly<{
  key: string;
  /** Head of the column, and beside the value where a row is a card. */
  label: string;
  /** A count is a short whole number: two stand side by side on a card. */
  kind?: "text" | "numeric" | "count" | "code";
  cell: (row: Row) => ReactNode;
  /** Where the same page is, sorted by this column; without it the column cannot be sorted. */
  sortHref?: string;
  sorted?: "ascending" | "descending";
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

/** The address of the page sorted by a column: the same column twice turns the order round. Other filters stay. */
export function sortHref(
  path: string,
  search: Readonly<Record<string, string | undefined>>,
  key: string,
): { readonly sortHref: string; readonly sorted?: "ascending" | "descending" } {
  const current = search["sort"] === key ? "ascending" : search["sort"] === `-${key}` ? "descending" : undefined;
  const params = new URLSearchParams();
  for (const [name, value] of Object.entries(search))
    if (value && name !== "sort" && name !== "after") params.set(name, value);
  params.set("sort", current === "ascending" ? `-${key}` : key);
  return current ? { sortHref: `${path}?${params}`, sorted: current } : { sortHref: `${path}?${params}` };
}

const CELL_CLASS = {
  text: undefined,
  numeric: styles.numeric,
  count: `${styles.numeric} ${styles.count}`,
  code: styles.code,
} as const;

function Head<Row>({ column }: Readonly<{ column: TableColumn<Row> }>) {
  if (!column.sortHref) return column.label;
  return (
    <Link className={styles.sort} href={column.sortHref} scroll={false}>
      {column.label}
      {column.sorted ? (
        <svg viewBox="0 0 9 8" aria-hidden="true">
          <path d={column.sorted === "ascending" ? "M0 8L4.5 0 9 8z" : "M0 0L4.5 8 9 0z"} fill="currentColor" />
        </svg>
      ) : null}
    </Link>
  );
}

/** Rows under columns; on a phone each row is a card: its head as the title, then a label and a value to a line. */
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
    <div>
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
                  aria-sort={column.sorted ?? (column.sortHref ? "none" : undefined)}
                >
                  <Head column={column} />
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row, index) => (
              <tr key={rowKey(row, index)}>
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
              Save as CSV
            </a>
          ) : null}
        </p>
      ) : null}
    </div>
  );
}
