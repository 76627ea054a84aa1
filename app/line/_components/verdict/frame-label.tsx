"use client";

import { create } from "qrcode/lib/core/qrcode";
import { useMemo } from "react";
import { formatMoment } from "@/lib/format/date-text";
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

/** White around the code, in its own squares. Source: ISO/IEC 18004, quiet zone 4X. */
const QUIET = 4;

/** Label of a frame for the printer: serial, verdict, and the serial as a code that any scanner reads. Only on paper. */
export function FrameLabel({ serial, batch, marks, at, zone }: FrameLabelProps) {
  const { size, path } = useMemo(() => {
    const { modules } = create(serial, { errorCorrectionLevel: "M" });
    const dark: string[] = [];
    for (let row = 0; row < modules.size; row += 1)
      for (let column = 0; column < modules.size; column += 1)
        if (modules.get(row, column)) dark.push(`M${column} ${row}h1v1h-1z`);
    return { size: modules.size, path: dark.join("") };
  }, [serial]);
  return (
    <section className={styles.label} data-printed aria-hidden="true">
      <svg viewBox={`${-QUIET} ${-QUIET} ${size + 2 * QUIET} ${size + 2 * QUIET}`} shapeRendering="crispEdges">
        <path d={path} fill="#000" />
      </svg>
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
