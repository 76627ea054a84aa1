import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import { UI_WORDS } from "./words";
import styles from "./title-block.module.css";

const words = UI_WORDS.titleBlock;

export type TitleCell = Readonly<{
  label: string;
  value: ReactNode;
  /** Serials and codes stand in the mono face. */
  code?: boolean;
}>;

type TitleBlockProps = Readonly<{
  cells: readonly TitleCell[];
  /** Shows the first-angle projection symbol: on every sheet that carries a drawing of a shell. */
  projection?: boolean;
  touch?: boolean;
}>;

/** The strip in the corner of every sheet: what it is about, by which drawing, gauge, rule and person. */
export function TitleBlock({ cells, projection = false, touch = false }: TitleBlockProps) {
  return (
    <dl className={touch ? `${styles.block} ${styles.touch}` : styles.block}>
      {cells.map((cell) => (
        <div key={cell.label} className={styles.cell}>
          <dt className={styles.label}>{cell.label}</dt>
          <dd className={cell.code ? `${styles.value} ${styles.code}` : styles.value}>{keepWhole(cell.value)}</dd>
        </div>
      ))}
      {projection ? (
        <div className={styles.projection}>
          <dt className="visuallyHidden">{words.projection}</dt>
          <dd>
            <svg viewBox="0 0 46 22" role="img" aria-label={words.firstAngleProjection}>
              <g fill="none" stroke="var(--ink)" strokeWidth="1.2">
                <path d="M2 7L18 3V19L2 15Z" />
                <circle cx="34" cy="11" r="8" />
                <circle cx="34" cy="11" r="4" />
                <path d="M0 11H20M24 11H44M34 1V21" strokeWidth="0.7" />
              </g>
            </svg>
          </dd>
        </div>
      ) : null}
    </dl>
  );
}
