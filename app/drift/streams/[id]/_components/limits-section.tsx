import { formatDay, formatMoment } from "@/lib/format/date-text";
import { USUAL_FORM_RUN_LENGTH } from "@/lib/core/control/charts/form-ewma";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import { formatStreamValue } from "@/lib/format/stream-words";
import { runLengthOf } from "@/lib/server/drift/capability-queries";
import type { StreamPage } from "@/lib/server/drift/queries";
import { SectionHeading } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import styles from "../stream.module.css";
import { LimitsForm, type BaselineChoice } from "./limits-form";
import type { StreamReading } from "./stream-reading";

function baselineChoices(stream: StreamPage, reading: StreamReading, zone: string): BaselineChoice[] {
  const { points, events } = stream;
  const last = points.at(-1);
  const since = events
    .map((event) => ({ event, frames: points.filter((point) => point.at >= Date.parse(event.at)).length }))
    .filter(({ frames }) => frames >= 100)
    .at(-1);
  return [
    { key: "newest", label: "newest 100 frames", detail: "without those with an assigned cause" },
    ...(since === undefined
      ? []
      : [
          {
            key: "event",
            label: `since: ${since.event.kind}`,
            detail: `${formatCounted(since.frames, "frame")}, from ${formatMoment(since.event.at, { zone })}`,
            from: since.event.at,
          },
        ]),
    ...(points[0] === undefined || last === undefined
      ? []
      : [
          {
            key: "shown",
            label: `the ${formatCounted(points.length, "frame")} shown`,
            detail: `frames ${reading.firstNumber} to ${stream.total}`,
            from: new Date(points[0].at).toISOString(),
            to: new Date(last.at).toISOString(),
          },
        ]),
  ];
}

/** The limits in force, where they come from, how often they cry wolf, and where an engineer approves others. */
export function LimitsSection({
  stream,
  reading,
  zone,
  mayApprove,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; mayApprove: boolean }>) {
  const { limits } = stream;
  const run = limits === null ? null : runLengthOf(stream.kind, limits.frames);
  return (
    <section>
      <SectionHeading aside={limits === null ? undefined : `version ${limits.version}`}>Control limits</SectionHeading>
      {limits === null ? (
        <p className={styles.refusal}>
          None yet: limits are provisional from 25 frames on and can be approved from 100. The stream has {stream.total}
          .
        </p>
      ) : (
        <>
          <p className={styles.refusal}>
            {limits.lower === null ? "" : `${formatStreamValue(limits.lower, stream.feature)} to `}
            {limits.upper === null ? "" : formatStreamValue(limits.upper, stream.feature)}: {limits.method}, from{" "}
            {formatCounted(limits.frames, "frame")}, {keepWhole(formatDay(limits.baselineFrom, { zone }))} to{" "}
            {keepWhole(formatDay(limits.baselineTo, { zone }))}.{" "}
            {limits.approvedAt === null
              ? limits.provisional
                ? "Provisional, nobody has approved them."
                : "Nobody has approved them."
              : keepWhole(
                  `Approved by ${limits.approvedBy ?? "somebody"} on ${formatDay(limits.approvedAt, { zone })}.`,
                )}
          </p>
          <p className={styles.note}>
            {run === null
              ? `A false alarm in about 740 frames by the limit${limits.average === null ? "" : `, and in about ${formatCount(USUAL_FORM_RUN_LENGTH)} by the weighted mean,`} where the fitted distribution holds; the fewer frames it was fitted to, the less sure that is.`
              : `A false alarm in ${Math.round(run.lower)} to ${Math.round(run.upper)} frames while nothing changes (90 %, since the limits are estimated); ${Math.round(run.nominal)} with limits that are known.`}
          </p>
        </>
      )}
      {mayApprove ? <LimitsForm streamId={stream.id} choices={baselineChoices(stream, reading, zone)} /> : null}
    </section>
  );
}
