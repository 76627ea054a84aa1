"use client";

import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatReading } from "@/lib/format/reading-text";
import { Button } from "@/lib/ui/button";
import { Sheet } from "@/lib/ui/page-frame";
import { ShellDrawing as ShellSheet } from "@/lib/ui/shell-drawing";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const words = PLAN_WORDS.preview;

type PlanPreviewProps = Readonly<{
  drawing: ShellDrawing;
  names: readonly ReadingName[];
  at: number;
  onAt: (at: number) => void;
}>;

/** The shell as Line shows it when this reading is asked for; steps through the keying order. */
export function PlanPreview({ drawing, names, at, onAt }: PlanPreviewProps) {
  const asked = names[at] ?? null;
  const before = names.slice(0, at);
  const sections = (["ds", "nds"] as const).flatMap((seat) => {
    const depths = [
      ...new Set(names.flatMap((one) => (one.kind === "bore" && one.seat === seat ? [one.depthMm] : []))),
    ];
    const ofSection = (list: readonly ReadingName[], depthMm: number) =>
      list.filter((one) => one.kind === "bore" && one.seat === seat && one.depthMm === depthMm).length;
    return depths.map((depthMm) => ({
      seat,
      depthMm,
      taken: ofSection(before, depthMm),
      planned: ofSection(names, depthMm),
      meanMm: null,
    }));
  });
  const text = asked ? formatReading(asked, "ds") : null;
  return (
    <div className={styles.preview}>
      <Sheet label={words.howLineAsksForReading}>
        <p className={styles.asked} role="status">
          <b>{names.length === 0 ? words.noReadingChosen : words.ofText(at + 1, names.length, text?.title ?? "")}</b>
          <span>{text?.detail}</span>
        </p>
        <ShellSheet
          key={asked ? formatReadingName(asked) : "none"}
          drawing={drawing}
          side="ds"
          arrangement="column"
          sections={sections}
          asked={asked}
          marks={[]}
        />
        <div className={styles.steps}>
          <Button disabled={at <= 0} onClick={() => onAt(at - 1)}>
            {words.readingBefore}
          </Button>
          <Button disabled={at >= names.length - 1} onClick={() => onAt(at + 1)}>
            {words.nextReading}
          </Button>
        </div>
      </Sheet>
    </div>
  );
}
