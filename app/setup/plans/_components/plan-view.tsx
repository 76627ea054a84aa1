"use client";

import { useState } from "react";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatReading } from "@/lib/format/reading-text";
import { SectionHeading } from "@/lib/ui/page-frame";
import { readNames } from "./plan-choices";
import { PlanPreview } from "./plan-preview";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const words = PLAN_WORDS.view;

/** The keying order of a plan as it stands: each reading on the shell when it is chosen. */
export function PlanView({ drawing, order }: Readonly<{ drawing: ShellDrawing; order: readonly string[] }>) {
  const [at, setAt] = useState(0);
  const names = readNames(order);
  return (
    <section>
      <SectionHeading aside={words.readings(names.length)}>{words.orderOfKeying}</SectionHeading>
      <PlanPreview drawing={drawing} names={names} at={at} onAt={setAt} />
      <details className={styles.group}>
        <summary>{words.allReadingsInTheirOrder}</summary>
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
