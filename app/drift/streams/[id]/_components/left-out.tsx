import Link from "next/link";
import { formatCounted } from "@/lib/format/number-text";
import type { StreamPage } from "@/lib/server/drift/queries";
import styles from "../stream.module.css";

/** Frames that are named; the rest is counted. */
const MOST_NAMED = 12;

/** What is charted nowhere although it was measured: an odd value would move limits that stand for hundreds of frames. */
export function LeftOut({ leftOut }: Readonly<{ leftOut: StreamPage["leftOut"] }>) {
  if (leftOut.length === 0) return null;
  const named = leftOut.slice(-MOST_NAMED);
  const rest = leftOut.length - named.length;
  return (
    <p className={styles.note}>
      Left out of chart, limits and change points, since a reading was confirmed after a question or lay off the scale:{" "}
      {formatCounted(leftOut.length, "frame", "frames")},{" "}
      {named.map(({ serial, at }, place) => (
        <span key={`${serial} ${at}`}>
          {place === 0 ? "" : ", "}
          <Link href={`/frames/${encodeURIComponent(serial)}`}>{serial}</Link>
        </span>
      ))}
      {rest > 0 ? ` and ${rest} earlier` : ""}.
    </p>
  );
}
