import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { ruleWords } from "@/lib/format/stream-words";
import type { EarlierSignal } from "@/lib/server/drift/queries";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.earlier;

/** Run rules that points met while those alarmed, before cases: to read only. */
export function EarlierSignals({ signals, zone }: Readonly<{ signals: readonly EarlierSignal[]; zone: string }>) {
  if (signals.length === 0) return null;
  return (
    <details className={styles.fold}>
      <summary>{words.title(signals.length)}</summary>
      <p className={styles.note}>{words.explained}</p>
      <ul className={styles.entries}>
        {signals.map(({ id, rule, side, serial, at, cause, assignedBy }) => (
          <li key={id}>
            <b>{ruleWords(rule, side)}</b>
            <small>
              <Link className="mono" href={`/frames/${encodeURIComponent(serial)}`}>
                {serial}
              </Link>
              {", "}
              {keepWhole(formatMoment(at, { zone }))}
              {cause === null ? "" : keepWhole(words.cause(cause, assignedBy))}
            </small>
          </li>
        ))}
      </ul>
    </details>
  );
}
