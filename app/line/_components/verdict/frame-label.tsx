"use client";

import { formatMoment } from "@/lib/format/date-text";
import { ScannedCode } from "@/lib/ui/scanned-code";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { VERDICT_WORDS } from "../../words/verdict";
import styles from "./verdict.module.css";

const words = VERDICT_WORDS.label;

type FrameLabelProps = Readonly<{
  serial: string;
  batch: string;
  marks: readonly MarkedState[];
  at: string;
  zone: string;
}>;

/** Label of a frame for the printer: serial, verdict, and the serial as a code that any scanner reads. Only on paper. */
export function FrameLabel({ serial, batch, marks, at, zone }: FrameLabelProps) {
  return (
    <section className={styles.label} data-printed aria-hidden="true">
      <ScannedCode text={serial} />
      <div>
        <p className={styles.labelSerial}>{serial}</p>
        {marks.map((mark) => (
          <p key={mark} className={styles.labelVerdict}>
            <StateMark state={mark} size="m" />
          </p>
        ))}
        <p>{words.batch(batch, formatMoment(at, { zone }))}</p>
      </div>
    </section>
  );
}
