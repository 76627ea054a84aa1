import type { FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import type { Estimate } from "@/lib/core/errors";
import { formatCount, formatMm } from "@/lib/format/number-text";
import { ExplainedValue } from "@/lib/ui/explained-value";
import { SectionHeading } from "@/lib/ui/page-frame";
import styles from "../stream.module.css";

/** Frames until the line meets the guarded limit, with its interval, or why there is no number. */
export function ToolLifePanel({ life, tool }: Readonly<{ life: Estimate<FramesLeft> | null; tool: string | null }>) {
  if (life === null) return null;
  const heading = `Tool life${tool === null ? "" : `, ${tool}`}`;
  if (!life.ok)
    return (
      <section>
        <SectionHeading>{heading}</SectionHeading>
        <p className={styles.refusal}>{life.reason}</p>
      </section>
    );
  const { estimate, interval, untilBound, limit, limitValue } = life.value;
  const to = interval[1] === null ? "no upper estimate" : formatCount(Math.round(interval[1]));
  return (
    <section>
      <SectionHeading aside={`to ${formatMm(limitValue)}, allowing for uncertainty`}>{heading}</SectionHeading>
      <div className={`${styles.index} ${styles.big}`}>
        <ExplainedValue
          explanation={{
            title: "Frames until the mean meets the guarded limit",
            formula:
              "a straight line through the frames since the tool change, by least squares that allow for neighbouring frames being alike; where it meets the limit narrowed by the uncertainty",
            inputs: [
              { name: "guarded limit", value: `${formatMm(limitValue)} (${limit})` },
              {
                name: "frames until one frame may be out",
                value: untilBound === null ? "over 100 000" : formatCount(Math.floor(untilBound)),
              },
            ],
            standard: "Fieller 1954; Draper and Smith 1998, 3.2",
            uncertainty: `${formatCount(Math.round(interval[0]))} to ${to} at 95 %`,
            note: "It holds while the tool wears as before.",
          }}
        >
          {formatCount(Math.round(estimate))}
        </ExplainedValue>
        <span>
          frames left, 95 %: {formatCount(Math.round(interval[0]))} to {to}
        </span>
      </div>
    </section>
  );
}
