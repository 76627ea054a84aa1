import type { FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import type { Estimate } from "@/lib/core/errors";
import { formatCount, formatMm } from "@/lib/format/number-text";
import { ExplainedValue } from "@/lib/ui/explained-value";
import { SectionHeading } from "@/lib/ui/page-frame";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.toolLife;

/** Frames until the line meets the guarded limit, with its interval, or why there is no number. */
export function ToolLifePanel({ life, tool }: Readonly<{ life: Estimate<FramesLeft> | null; tool: string | null }>) {
  if (life === null) return null;
  const heading = words.toolLife(tool === null ? "" : `, ${tool}`);
  if (!life.ok)
    return (
      <section>
        <SectionHeading>{heading}</SectionHeading>
        <p className={styles.refusal}>{life.reason}</p>
      </section>
    );
  const { estimate, interval, untilBound, limit, limitValue } = life.value;
  const to = interval[1] === null ? words.noUpperEstimate : formatCount(Math.round(interval[1]));
  return (
    <section>
      <SectionHeading aside={words.toAllowingForUncertainty(formatMm(limitValue))}>{heading}</SectionHeading>
      <div className={`${styles.index} ${styles.big}`}>
        <ExplainedValue
          explanation={{
            title: words.framesUntilMeanMeetsGuarded,
            formula: words.straightLineThroughFramesSince,
            inputs: [
              { name: "guarded limit", value: `${formatMm(limitValue)} (${limit})` },
              {
                name: "frames until one frame may be out",
                value: untilBound === null ? words.over100000 : formatCount(Math.floor(untilBound)),
              },
            ],
            standard: words.fieller1954,
            uncertainty: words.toAt95(formatCount(Math.round(interval[0])), to),
            note: words.holdsWhileToolWears,
          }}
        >
          {formatCount(Math.round(estimate))}
        </ExplainedValue>
        <span>{words.framesLeft95To(formatCount(Math.round(interval[0])), to)}</span>
      </div>
    </section>
  );
}
