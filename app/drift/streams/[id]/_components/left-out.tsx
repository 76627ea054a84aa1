import Link from "next/link";
import type { StreamPage } from "@/lib/server/drift/queries";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.leftOut;

/** Frames that are named; the rest is counted. */
const MOST_NAMED = 12;

/** What is charted nowhere although it was measured: an odd value would move limits that stand for hundreds of frames. */
export function LeftOut({ leftOut }: Readonly<{ leftOut: StreamPage["leftOut"] }>) {
  if (leftOut.length === 0) return null;
  const named = leftOut.slice(-MOST_NAMED);
  const rest = leftOut.length - named.length;
  return (
    <p className={styles.note}>
      {words.leftOutOfChart(
        leftOut.length,
        named.map(({ serial, at }, place) => (
          <span key={`${serial} ${at}`}>
            {place === 0 ? "" : ", "}
            <Link href={`/frames/${encodeURIComponent(serial)}`}>{serial}</Link>
          </span>
        )),
        rest > 0 ? words.andEarlier(rest) : "",
      )}
    </p>
  );
}
