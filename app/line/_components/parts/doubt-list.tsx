import styles from "./doubt-list.module.css";

/** What is doubted of the readings, in words; nothing where nothing is. */
export function DoubtList({ doubts }: Readonly<{ doubts: readonly string[] }>) {
  if (doubts.length === 0) return null;
  return (
    <ul className={styles.doubts}>
      {doubts.map((doubt) => (
        <li key={doubt}>{doubt}</li>
      ))}
    </ul>
  );
}
