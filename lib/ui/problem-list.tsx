import { fieldInWords } from "@/lib/format/field-words";
import { keepWhole } from "./keep-whole";
import styles from "./notice.module.css";

/** One thing that was wrong in what was sent: where, and in words. */
export type Problem = { readonly path: string; readonly message: string };

export function ProblemList({ problems }: Readonly<{ problems: readonly Problem[] }>) {
  if (problems.length === 0) return null;
  return (
    <ul className={styles.problems}>
      {problems.map((problem) => (
        <li key={`${problem.path} ${problem.message}`}>
          {problem.path ? <b>{fieldInWords(problem.path)}: </b> : null}
          {keepWhole(problem.message)}
        </li>
      ))}
    </ul>
  );
}
