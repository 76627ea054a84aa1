import Link from "next/link";
import { formatShortDay } from "@/lib/format/date-text";
import type { CaseListItem } from "@/lib/server/cases/queries";
import { CASE_WORDS } from "../cases/words";
import styles from "../overview.module.css";

const words = CASE_WORDS.weeks;
const WEEK_MS = 7 * 86_400_000;
export const SHOWN_WEEKS = 4;

/** Nothing was found behind it. */
export const isFalse = ({ state, cause }: CaseListItem): boolean => state === "closed" && cause === "unknown";

/** The cases of the last weeks as flags, those without fill had nothing behind them. */
export function FalseCases({
  cases,
  now,
  zone,
}: Readonly<{ cases: readonly CaseListItem[]; now: number; zone: string }>) {
  const weeks = Array.from({ length: SHOWN_WEEKS }, (_, at) => {
    const from = now - (SHOWN_WEEKS - at) * WEEK_MS;
    const own = cases.filter(({ sinceAt }) => Date.parse(sinceAt) > from && Date.parse(sinceAt) <= from + WEEK_MS);
    return { from, own };
  });
  return (
    <ol className={styles.weeks}>
      {weeks.map(({ from, own }) => (
        <li key={from}>
          <div>
            {own.map((one) => (
              <Link
                key={one.id}
                href={`/drift/cases/${one.id}`}
                className={isFalse(one) ? styles.hollowFlag : styles.fullFlag}
                aria-label={words.flag(one.number, isFalse(one))}
              >
                <svg viewBox="0 0 24 24" aria-hidden="true">
                  <path d="M7 3l13 5-13 5z" />
                  <path d="M6 2v20" />
                </svg>
              </Link>
            ))}
          </div>
          <small>{words.week(formatShortDay(from + 1, zone))}</small>
        </li>
      ))}
    </ol>
  );
}
