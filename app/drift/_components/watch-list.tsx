import Link from "next/link";
import { formatMm, formatUm } from "@/lib/format/number-text";
import { streamName } from "@/lib/format/stream-words";
import type { StreamListItem } from "@/lib/server/drift/list-streams";
import { keepWhole } from "@/lib/ui/keep-whole";
import { DRIFT_WORDS } from "../words";
import { SparkLine } from "./spark-line";
import styles from "../overview.module.css";

const words = DRIFT_WORDS.watch;
const SHOWN = 80;

/** Streams of one line whose tool wears towards a limit: the one that gets there first speaks for both seats. */
export type Watched = Readonly<{ first: StreamListItem; both: boolean }>;

/** Forecasts: nothing is outside, and something is to be made ready. */
export function WatchList({ watched }: Readonly<{ watched: readonly Watched[] }>) {
  return (
    <ul>
      {watched.map(({ first, both }) => {
        const { forecast, tolerance } = first;
        if (forecast === null) return null;
        const { tool, slope, interval, limitValue } = forecast;
        const subject = both ? words.bothBores : streamName(first.feature);
        return (
          <li key={first.id} className={styles.watched}>
            <svg className={styles.dashedPennant} viewBox="0 0 24 24" role="img" aria-label={words.mark}>
              <path d="M7 3l13 5-13 5" strokeDasharray="3 2.4" />
              <path d="M6 2v20" />
            </svg>
            <div>
              <h3>
                <Link href={`/drift/streams/${first.id}`}>{keepWhole(words.headline(first.line, subject, tool))}</Link>
              </h3>
              <p>
                {keepWhole(
                  words.when(
                    Math.round(interval[0]),
                    Math.round(interval[1] ?? interval[0]),
                    formatUm(Math.abs(slope) * 1000, 2),
                    formatMm(limitValue),
                  ),
                )}
              </p>
            </div>
            <SparkLine
              values={first.recent.slice(-SHOWN)}
              control={
                tolerance === null
                  ? null
                  : {
                      center: limitValue,
                      lower: forecast.limit === "lower" ? limitValue : null,
                      upper: forecast.limit === "upper" ? limitValue : null,
                    }
              }
            />
          </li>
        );
      })}
    </ul>
  );
}
