import "server-only";

/** What was found of one part of the installation, in sentences. */
export type Finding = {
  /** "Disk", "Backups". */
  readonly subject: string;
  /** "wrong": somebody has to act; "remark": somebody should know; "good". */
  readonly state: "wrong" | "remark" | "good";
  readonly says: string;
  /** What to do; null where nothing is to be done. */
  readonly todo: string | null;
};

export const good = (subject: string, says: string): Finding => ({ subject, state: "good", says, todo: null });
export const remark = (subject: string, says: string, todo: string): Finding => ({
  subject,
  state: "remark",
  says,
  todo,
});
export const wrong = (subject: string, says: string, todo: string): Finding => ({
  subject,
  state: "wrong",
  says,
  todo,
});
