/**
 * One thing wrong in a measurement file. The header is row 1; `row` is null for what concerns the whole file. `hint` names
 * the likely slip where one is recognised.
 */
export type FileProblem = {
  readonly file: string;
  readonly row: number | null;
  readonly column: string | null;
  readonly value: string | null;
  readonly rule: string;
  readonly hint: string | null;
};

/** The problem as one sentence for a person. */
export function problemSentence(problem: FileProblem): string {
  const place = [
    problem.row === null ? null : `row ${problem.row}`,
    problem.column === null ? null : `column ${problem.column}`,
  ].filter((part) => part !== null);
  const value = problem.value === null ? "" : ` Got "${problem.value}".`;
  const hint = problem.hint === null ? "" : ` ${problem.hint}`;
  const head = [problem.file, ...place].join(", ");
  return `${head}: ${problem.rule}.${value}${hint}`;
}
