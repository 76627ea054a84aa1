import { formatDay, formatMoment } from "@/lib/format/date-text";
import { USUAL_FORM_RUN_LENGTH } from "@/lib/core/control/charts/form-ewma";
import { formatCount } from "@/lib/format/number-text";
import { formatStreamValue } from "@/lib/format/stream-words";
import { runLengthOf } from "@/lib/server/drift/capability-queries";
import type { StreamPage } from "@/lib/server/drift/queries";
import { SectionHeading } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";
import { LimitsForm, type BaselineChoice } from "./limits-form";
import type { StreamReading } from "./stream-reading";

const words = STREAM_WORDS.limits;

function baselineChoices(stream: StreamPage, reading: StreamReading, zone: string): BaselineChoice[] {
  const { points, events } = stream;
  const last = points.at(-1);
  const since = events
    .map((event) => ({ event, frames: points.filter((point) => point.at >= Date.parse(event.at)).length }))
    .filter(({ frames }) => frames >= 100)
    .at(-1);
  return [
    { key: "newest", label: words.newest100Frames, detail: words.withoutThoseWithAssignedCause },
    ...(since === undefined
      ? []
      : [
          {
            key: "event",
            label: words.sinceKind(since.event.kind),
            detail: words.fromAt(since.frames, formatMoment(since.event.at, { zone })),
            from: since.event.at,
          },
        ]),
    ...(points[0] === undefined || last === undefined
      ? []
      : [
          {
            key: "shown",
            label: words.theShown(points.length),
            detail: words.framesTo(reading.firstNumber, stream.total),
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
      <SectionHeading aside={limits === null ? undefined : words.version(limits.version)}>
        {words.controlLimits}
      </SectionHeading>
      {limits === null ? (
        <p className={styles.refusal}>{words.noneYet(stream.total)}</p>
      ) : (
        <>
          <p className={styles.refusal}>
            {words.fromTo(
              limits.lower === null ? "" : words.toLower(formatStreamValue(limits.lower, stream.feature)),
              limits.upper === null ? "" : formatStreamValue(limits.upper, stream.feature),
              limits.method,
              limits.frames,
              keepWhole(formatDay(limits.baselineFrom, { zone })),
              keepWhole(formatDay(limits.baselineTo, { zone })),
              limits.approvedAt === null
                ? limits.provisional
                  ? words.provisionalNobodyHasApprovedThem
                  : words.nobodyHasApprovedThem
                : keepWhole(
                    words.approvedByOn(limits.approvedBy ?? words.somebody, formatDay(limits.approvedAt, { zone })),
                  ),
            )}
          </p>
          <p className={styles.note}>
            {run === null
              ? words.falseAlarmInAbout740(
                  limits.average === null ? "" : words.andInAboutByWeighted(formatCount(USUAL_FORM_RUN_LENGTH)),
                )
              : words.falseAlarmInToFrames(Math.round(run.lower), Math.round(run.upper), Math.round(run.nominal))}
          </p>
        </>
      )}
      {mayApprove ? <LimitsForm streamId={stream.id} choices={baselineChoices(stream, reading, zone)} /> : null}
    </section>
  );
}
