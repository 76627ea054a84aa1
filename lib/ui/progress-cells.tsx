import styles from "./cells.module.css";

export type ProgressCell = "done" | "current" | "left" | "failed" | "doubtful";

/** More cells than this are one bar: single cells could not be told apart. */
const MOST_CELLS = 120;

/** The frames of a batch as cells, with what was found in them. */
export function ProgressCells({ cells, label }: Readonly<{ cells: readonly ProgressCell[]; label: string }>) {
  if (cells.length > MOST_CELLS) {
    const done = cells.filter((cell) => cell !== "left" && cell !== "current").length;
    return <progress className={styles.many} value={done} max={cells.length} aria-label={label} />;
  }
  return (
    <p className={styles.progress} role="img" aria-label={label}>
      {cells.map((cell, index) => (
        <i key={index} className={cell === "left" ? undefined : styles[cell]} />
      ))}
    </p>
  );
}
