import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { USUAL_FORM_RUN_LENGTH } from "@/lib/core/control/charts/form-ewma";
import { formatCount } from "@/lib/format/number-text";
import { formatStreamValue } from "@/lib/format/stream-words";
import { runLengthOf } from "@/lib/server/drift/capability-queries";
import type { StreamPage } from "@/lib/server/drift/queries";
import { SectionHeading } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.limits;

/** The limits in force, where they come from, how often they cry wolf, and the way to the baseline. */
export function LimitsSection({ stream, zone }: Readonly<{ stream: StreamPage; zone: string }>) {
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
      <p className={styles.refusal}>
        <Link href={`/drift/streams/${stream.id}/baseline`}>{words.ofBaseline}</Link>
      </p>
    </section>
  );
}
