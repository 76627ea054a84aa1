import { StateMark, type MarkedState } from "./state-mark";
import { UI_WORDS } from "./words";
import styles from "./table.module.css";

const words = UI_WORDS.readingTable;

export type ReadingCell = Readonly<{
  key: string;
  /** The value as it is shown; null where nothing was read yet. */
  text: string | null;
  verdict?: MarkedState;
  /** Asked for now. */
  asked?: boolean;
  /** In words, for the cell where a reading could not be taken. */
  note?: string;
}>;

export type ReadingRow = Readonly<{
  key: string;
  head: string;
  sub?: string;
  cells: readonly ReadingCell[];
  /** Features computed from the row, under the last columns. */
  features?: readonly (string | null)[];
}>;

type ReadingTableProps = Readonly<{
  caption: string;
  columns: readonly string[];
  featureColumns?: readonly string[];
  rows: readonly ReadingRow[];
  /** Jumps to a reading to correct it; without it the cells are plain. */
  onJump?: (key: string) => void;
}>;

function CellContent({ cell }: Readonly<{ cell: ReadingCell }>) {
  if (cell.text === null && !cell.asked) {
    return cell.note ? <span className={styles.empty}>{cell.note}</span> : <span className={styles.empty}>·</span>;
  }
  return (
    <span className={styles.value}>
      {cell.verdict && !cell.asked && cell.text !== null ? (
        <StateMark state={cell.verdict} size="s" wordBeside />
      ) : null}
      {cell.text ?? "–"}
    </span>
  );
}

/** All readings of a frame so far: one row a section, one column a direction, the asked one in blue. */
export function ReadingTable({ caption, columns, featureColumns = [], rows, onJump }: ReadingTableProps) {
  const askedIndex = rows.map((row) => row.cells.findIndex((cell) => cell.asked)).find((index) => index >= 0) ?? -1;
  return (
    <div className={styles.scroll} tabIndex={0} role="region" aria-label={caption}>
      <table className={styles.readings}>
        <caption className="visuallyHidden">{caption}</caption>
        <thead>
          <tr>
            <td />
            {columns.map((column, index) => (
              <th key={column} scope="col" className={index === askedIndex ? styles.askedHead : undefined}>
                {column}
              </th>
            ))}
            {featureColumns.map((column) => (
              <th key={column} scope="col">
                {column}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.key}>
              <th scope="row">
                {row.head} {row.sub ? <span>{row.sub}</span> : null}
              </th>
              {row.cells.map((cell) => (
                <td
                  key={cell.key}
                  className={cell.asked ? styles.asked : undefined}
                  aria-current={cell.asked ? "step" : undefined}
                >
                  {onJump ? (
                    <button
                      type="button"
                      className={styles.jump}
                      onClick={() => onJump(cell.key)}
                      aria-label={words.goToReading(row.head, row.sub ?? "", cell.text ?? words.notRead)}
                    >
                      <CellContent cell={cell} />
                    </button>
                  ) : (
                    <CellContent cell={cell} />
                  )}
                </td>
              ))}
              {featureColumns.map((column, index) => (
                <td key={column} className={styles.feature}>
                  {row.features?.[index] ?? <span className={styles.empty}>·</span>}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
