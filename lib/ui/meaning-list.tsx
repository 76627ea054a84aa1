import { keepWhole } from "./keep-whole";
import { UI_WORDS } from "./words";
import styles from "./meaning-list.module.css";

const words = UI_WORDS.meaningList;

export type MeaningRow = Readonly<{
  key: string;
  title: string;
  /** The short form beside the title: "25 to 36 µm", "rework possible". */
  figure: string | null;
  sentence: string;
  /** Formula in words, assumptions, uncertainty: what the row opens to. */
  explanation: string;
  assumptions: readonly string[];
  uncertainty: string | null;
}>;

type MeaningListProps = Readonly<{
  rows: readonly MeaningRow[];
  /** Said under all of them: estimates, makers' limits, protection. */
  note: string;
}>;

/** What the readings of a frame mean, one estimate a row, each opening to how it was computed. */
export function MeaningList({ rows, note }: MeaningListProps) {
  return (
    <>
      <ul className={styles.list}>
        {rows.map((row) => (
          <li key={row.key}>
            <p className={styles.head}>
              <b>{row.title}</b>
              {row.figure === null ? null : <span>{row.figure}</span>}
            </p>
            <p className={styles.sentence}>{keepWhole(row.sentence)}</p>
            <details className={styles.how}>
              <summary>{words.howWasComputed}</summary>
              <p>{row.explanation}</p>
              {row.assumptions.length > 0 ? (
                <ul>
                  {row.assumptions.map((assumption) => (
                    <li key={assumption}>{assumption}</li>
                  ))}
                </ul>
              ) : null}
              <p>{row.uncertainty === null ? words.noUncertaintyIsStatedFor : words.uncertaintyK2(row.uncertainty)}</p>
            </details>
          </li>
        ))}
      </ul>
      <p className={styles.note}>{note}</p>
    </>
  );
}
