import Link from "next/link";
import { reasonInWords } from "@/lib/format/verdict-reasons";
import type { ToldBatchReason } from "@/lib/format/batch-words";
import type { ReasonCode } from "@/lib/quality/batch-decision";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { keepWhole } from "@/lib/ui/keep-whole";
import { GATE_WORDS } from "../../../words";
import styles from "../batch.module.css";

const words = GATE_WORDS.reasons;

const MARK = {
  "does-not-conform": "does not conform",
  "not-proven": "not proven",
  "not-measured": "not measured",
  "capability-bound": "not proven",
  "capability-unknown": "not proven",
  signal: "signal",
  "gauge-out-of-order": "not proven",
  "readings-on-device": "on device",
  "no-frames": "not measured",
  "sample-failed": "does not conform",
  "sample-accepted": "conforms",
} as const satisfies Record<ReasonCode, MarkedState>;

const SHOWN_SERIALS = 12;

function Serials({ serials }: Readonly<{ serials: readonly string[] }>) {
  return (
    <span className={styles.serials}>
      {serials.slice(0, SHOWN_SERIALS).map((serial) => (
        <Link key={serial} className="mono nowrap" href={`/frames/${encodeURIComponent(serial)}`} prefetch={false}>
          {serial}
        </Link>
      ))}
      {serials.length > SHOWN_SERIALS ? <span>{words.andMore(serials.length - SHOWN_SERIALS)}</span> : null}
    </span>
  );
}

/** Reasons of one kind against the same frames: what clears one clears them all. */
export function groupReasons(
  reasons: readonly ToldBatchReason[],
): readonly (readonly [ToldBatchReason, ...ToldBatchReason[]])[] {
  const groups = new Map<string, [ToldBatchReason, ...ToldBatchReason[]]>();
  for (const reason of reasons) {
    const key = `${reason.code} ${reason.serials.join(" ")}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [reason]);
    else group.push(reason);
  }
  return [...groups.values()];
}

function nameOf({ characteristic, seat }: ToldBatchReason): string {
  if (characteristic === null) return words.furtherReadings;
  return seat === null ? characteristic : `${seat.toUpperCase()} ${characteristic}`;
}

/** Further reasons against the same frames: by name, and in full where somebody opens them. */
function SameFrames({ reasons }: Readonly<{ reasons: readonly ToldBatchReason[] }>) {
  if (reasons.length === 0) return null;
  return (
    <details className={styles.same}>
      <summary>{words.sameFramesToo(reasons.map(nameOf).join(", "))}</summary>
      {reasons.map((reason) => (
        <p key={nameOf(reason)}>{keepWhole(reasonInWords(reason.text, { side: "ds" }))}</p>
      ))}
    </details>
  );
}

/**
 * Every reason that holds the batch, with what clears it; below, what informs without holding.
 *
 * @param past - the batch has left: the heading of what was against it, which nothing clears any more
 */
export function ReasonList({
  reasons,
  notes,
  past = null,
}: Readonly<{ reasons: readonly ToldBatchReason[]; notes: readonly ToldBatchReason[]; past?: string | null }>) {
  return (
    <>
      {past !== null && reasons.length > 0 ? (
        <div className={styles.reasonsHead}>
          <SectionHeading aside={words.frames}>
            <b>{past}</b>
          </SectionHeading>
        </div>
      ) : reasons.length > 0 ? (
        <div className={styles.reasonsHead}>
          <SectionHeading aside={words.whatClears}>
            <b>{words.whyMayNotShip}</b>
          </SectionHeading>
        </div>
      ) : (
        <SectionHeading>{words.nothingIsAgainst}</SectionHeading>
      )}
      <ol className={styles.reasons}>
        {groupReasons(reasons).map(([reason, ...same], index) => (
          <li key={`${reason.code} ${reason.characteristic} ${reason.seat}`}>
            <span className={styles.number}>{index + 1}</span>
            <span className={styles.reasonMark}>
              <StateMark state={MARK[reason.code]} size="fill" wordBeside />
            </span>
            <div>
              {keepWhole(reasonInWords(reason.text, { side: "ds" }))}
              <SameFrames reasons={same} />
            </div>
            <span className={styles.clears}>
              {past === null ? words.clearedBy[reason.code] : null}
              <Serials serials={reason.serials} />
            </span>
          </li>
        ))}
      </ol>
      {notes.length > 0 ? (
        <>
          <p className={styles.notesHead} id="notes-heading">
            {words.alsoNoted}
          </p>
          <ul className={styles.notes} aria-labelledby="notes-heading">
            {notes.map((note) => (
              <li key={note.text}>
                <StateMark state={MARK[note.code]} size="s" wordBeside />{" "}
                <span>{keepWhole(reasonInWords(note.text, { side: "ds" }))}</span>
              </li>
            ))}
          </ul>
        </>
      ) : null}
    </>
  );
}
