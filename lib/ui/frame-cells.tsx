import Link from "next/link";
import styles from "./cells.module.css";
import { MARK_OF_STATE, StateMark, type MarkedState } from "./state-mark";

export type FrameCell = Readonly<{
  serial: string;
  /** The end of the serial that tells it from its neighbours. */
  short: string;
  state: MarkedState;
  /** The value or the word under the number: "47 µm", "to do". */
  detail: string;
  href: string;
  /** Underlined, for a remark that the heading explains. */
  marked?: boolean;
}>;

/** Each frame of a batch as a cell that leads to its record. */
export function FrameCells({ frames, label }: Readonly<{ frames: readonly FrameCell[]; label: string }>) {
  return (
    <ul className={styles.frames} aria-label={label}>
      {frames.map((frame) => (
        <li key={frame.serial}>
          <Link
            className={[styles.frame, styles[MARK_OF_STATE[frame.state]], frame.marked ? styles.marked : ""]
              .filter(Boolean)
              .join(" ")}
            href={frame.href}
            prefetch={false}
            title={`${frame.serial}: ${frame.state}`}
          >
            <StateMark state={frame.state} size="s" wordBeside />
            <b>
              <span className="visuallyHidden">{frame.serial.slice(0, -frame.short.length)}</span>
              {frame.short}
            </b>
            <small className={/\d/.test(frame.detail) ? undefined : styles.word}>{frame.detail}</small>
          </Link>
        </li>
      ))}
    </ul>
  );
}
