"use client";

import { useState } from "react";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatReading } from "@/lib/format/reading-text";
import { SectionHeading } from "@/lib/ui/page-frame";
import { readNames } from "./plan-choices";
import { PlanPreview } from "./plan-preview";
import styles from "./plan.module.css";

/** The keying order of a plan as it stands: each reading on the shell when it is chosen. */
export function PlanView({ drawing, order }: Readonly<{ drawing: ShellDrawing; order: readonly string[] }>) {
  const [at, setAt] = useState(0);
  const names = readNames(order);
  return (
    <section>
      <SectionHeading aside={`${names.length} readings`}>Order of keying</SectionHeading>
      <PlanPreview drawing={drawing} names={names} at={at} onAt={setAt} />
      <details className={styles.group}>
        <summary>All readings in their order</summary>
        <ol>
          {names.map((name, place) => {
            const { title, detail } = formatReading(name, "ds");
            return (
              <li key={order[place]}>
                <span className={styles.place}>{place + 1}</span> {title}, {detail}{" "}
                <code className="mono soft">{order[place]}</code>
              </li>
            );
          })}
        </ol>
      </details>
    </section>
  );
}
