import type { ReactNode } from "react";
import styles from "./state-mark.module.css";

export type MarkShape = "ok" | "half" | "bar" | "flag" | "wait";

/** Every word that carries a mark. The mark is the same everywhere; the word always stands beside it. */
export const MARK_OF_STATE = {
  conforms: "ok",
  go: "ok",
  released: "ok",
  shipped: "ok",
  "on concession": "half",
  "not proven": "half",
  "does not conform": "bar",
  held: "bar",
  stop: "bar",
  scrapped: "bar",
  returned: "bar",
  signal: "flag",
  "not measured": "wait",
  unmeasured: "wait",
  "in measurement": "wait",
  measured: "wait",
  "in rework": "wait",
  regraded: "wait",
  "on device": "wait",
} as const satisfies Record<string, MarkShape>;

export type MarkedState = keyof typeof MARK_OF_STATE;

export const MARK_DRAWINGS: Readonly<Record<MarkShape, ReactNode>> = {
  ok: <circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" strokeWidth="3" />,
  half: (
    <g className={styles.halfRim}>
      <circle cx="12" cy="12" r="9.6" fill="none" strokeWidth="1.1" />
      <path d="M12 1.8a10.2 10.2 0 0 0 0 20.4v-4.4a5.8 5.8 0 0 1 0-11.6z" fill="currentColor" strokeWidth="1.1" />
    </g>
  ),
  bar: (
    <>
      <circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" strokeWidth="3" />
      <path d="M4 12h16" stroke="currentColor" strokeWidth="4" />
    </>
  ),
  flag: (
    <g className={styles.flagRim}>
      <path d="M7 3l13 5-13 5z" fill="currentColor" strokeWidth="1.1" strokeLinejoin="round" />
      <path d="M6 2v20" strokeWidth="2.2" />
    </g>
  ),
  wait: <circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" strokeWidth="2" strokeDasharray="3 3.3" />,
};

type StateMarkProps = Readonly<{
  state: MarkedState;
  /** What stands beside the mark; the state's own word without it. */
  word?: ReactNode;
  size?: "text" | "s" | "m" | "l" | "xl" | "fill";
  /** Only where the word already stands beside the mark: the mark then carries it for those who do not see. */
  wordBeside?: boolean;
  /** Takes the colour of the text around it, as on the filled answer of the dock. */
  plainInk?: boolean;
  className?: string;
}>;

export function StateMark({
  state,
  word,
  size = "text",
  wordBeside = false,
  plainInk = false,
  className,
}: StateMarkProps) {
  const shape = MARK_OF_STATE[state];
  const classes = [
    styles.state,
    styles[shape],
    size === "text" ? "" : styles[size],
    plainInk ? styles.plainInk : "",
    className,
  ]
    .filter(Boolean)
    .join(" ");
  return (
    <span className={classes}>
      {wordBeside ? (
        <svg className={styles.mark} viewBox="0 0 24 24" role="img" aria-label={state}>
          {MARK_DRAWINGS[shape]}
        </svg>
      ) : (
        <>
          <svg className={styles.mark} viewBox="0 0 24 24" aria-hidden="true">
            {MARK_DRAWINGS[shape]}
          </svg>
          <span>{word ?? state}</span>
        </>
      )}
    </span>
  );
}
