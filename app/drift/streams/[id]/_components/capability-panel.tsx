import { formatFixed, formatIndex, formatPpm } from "@/lib/format/number-text";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getStreamCapability } from "@/lib/server/drift/capability-queries";
import { ExplainedValue } from "@/lib/ui/explained-value";
import { SectionHeading } from "@/lib/ui/page-frame";
import styles from "../stream.module.css";

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
        1.33 wanted
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
        <SectionHeading aside="ISO 22514-2">Capability</SectionHeading>
        <p className={styles.refusal}>
          <b>Not stated.</b> {answer.reason}
        </p>
      </section>
    );
  const { ppk, interval, ppm, ppmInterval, distribution, frames, limit, status } = answer;
  const range = interval === null ? null : `${formatIndex(interval.lower)} to ${formatIndex(interval.upper)}`;
  const fraction = `${formatPpm(ppm / 1e6)}${ppmInterval === null ? "" : `, ${formatPpm(ppmInterval.lower / 1e6)} to ${formatPpm(ppmInterval.upper / 1e6)}`}`;
  return (
    <section>
      <SectionHeading aside="ISO 22514-2">Capability{status === "provisional" ? ", provisional" : ""}</SectionHeading>
      <div className={styles.index}>
        <ExplainedValue
          explanation={{
            title: "Process performance index Ppk",
            formula:
              "the distance from the middle of the fitted distribution to the limit, divided by the distance from there to the quantile that 0.135 % exceed; the worse limit decides",
            inputs: [
              { name: "frames", value: String(frames) },
              { name: "distribution", value: distribution },
              { name: "limit that decides", value: limit ?? "zone of the offset" },
              { name: "outside the limit", value: fraction },
            ],
            standard: "ISO 22514-2:2017",
            uncertainty: range === null ? "no interval" : `${range} at 95 %`,
            note: "It describes the process; each measured frame has its own verdict.",
          }}
        >
          Ppk {ppk === null ? "over 5" : formatIndex(ppk)}
        </ExplainedValue>
        <span>{range === null ? "" : `95 %: ${range}`}</span>
      </div>
      {ppk !== null && interval !== null ? (
        <IndexScale ppk={ppk} lower={interval.lower} upper={interval.upper} />
      ) : null}
      <p className="soft">
        {distribution.replaceAll("-", " ")} fits, newest {frames} frames; {fraction} outside
        {interval === null ? "" : ` (${formatFixed(100 * interval.confidence, 0)} %)`}.
      </p>
    </section>
  );
}
