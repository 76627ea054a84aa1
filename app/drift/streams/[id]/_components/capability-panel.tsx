import { formatFixed, formatIndex, formatPpm } from "@/lib/format/number-text";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getStreamCapability } from "@/lib/server/drift/capability-queries";
import { ExplainedValue } from "@/lib/ui/explained-value";
import { SectionHeading } from "@/lib/ui/page-frame";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.capability;

const WANTED = 4 / 3;

/** Where the index and its interval lie, with the value that is wanted. */
function IndexScale({ ppk, lower, upper }: Readonly<{ ppk: number; lower: number; upper: number }>) {
  const low = Math.min(WANTED, lower, 0.5);
  const high = Math.max(WANTED, upper) * 1.05;
  const x = (value: number) => ((value - low) / (high - low)) * 300;
  return (
    <svg className={styles.scale} viewBox="-4 0 308 44" aria-hidden="true">
      <path className={styles.scaleBase} d="M0 18H300" />
      <path className={styles.scaleWanted} d={`M${x(WANTED)} 4v28`} />
      <path className={styles.scaleBar} d={`M${x(lower)} 18H${x(upper)}`} />
      <circle className={styles.scaleDot} cx={x(ppk)} cy="18" r="6" />
      <text x={x(WANTED)} y="43" textAnchor="middle" fontSize="13">
        {words.wanted}
      </text>
    </svg>
  );
}

/** Capability by ISO 22514-2, or in words why it is not stated. */
export async function CapabilityPanel({ viewer, id }: Readonly<{ viewer: PersonViewer; id: string }>) {
  const answer = await getStreamCapability(viewer, id);
  if (!answer.ok)
    return (
      <section>
        <SectionHeading aside={words.iso225142}>{words.capability}</SectionHeading>
        <p className={styles.refusal}>
          <b>{words.notStated}</b> {answer.reason}
        </p>
      </section>
    );
  const { ppk, interval, ppm, ppmInterval, distribution, frames, limit, status } = answer;
  const range = interval === null ? null : words.toUpper(formatIndex(interval.lower), formatIndex(interval.upper));
  const fraction = `${formatPpm(ppm / 1e6)}${ppmInterval === null ? "" : words.to(formatPpm(ppmInterval.lower / 1e6), formatPpm(ppmInterval.upper / 1e6))}`;
  return (
    <section>
      <SectionHeading aside={words.iso225142}>
        {words.capabilityProvisional(status === "provisional" ? words.provisional : "")}
      </SectionHeading>
      <div className={styles.index}>
        <ExplainedValue
          explanation={{
            title: words.processPerformanceIndexPpk,
            formula: words.distanceFromMiddleOfFitted,
            inputs: [
              { name: "frames", value: String(frames) },
              { name: "distribution", value: distribution },
              { name: "limit that decides", value: limit ?? words.zoneOfOffset },
              { name: "outside the limit", value: fraction },
            ],
            standard: words.iso2251422017,
            uncertainty: range === null ? words.noInterval : words.at95(range),
            note: words.describesProcess,
          }}
        >
          {words.ppk(ppk === null ? words.over5 : formatIndex(ppk))}
        </ExplainedValue>
        <span>{range === null ? "" : `95 %: ${range}`}</span>
      </div>
      {ppk !== null && interval !== null ? (
        <IndexScale ppk={ppk} lower={interval.lower} upper={interval.upper} />
      ) : null}
      <p className="soft">
        {words.fitsNewestFramesOutside(
          distribution.replaceAll("-", " "),
          frames,
          fraction,
          interval === null ? "" : ` (${formatFixed(100 * interval.confidence, 0)} %)`,
        )}
      </p>
    </section>
  );
}
