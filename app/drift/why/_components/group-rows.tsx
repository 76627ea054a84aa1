import { GROUP_ROW, layoutGroupRows } from "@/lib/charts/group-rows";
import type { WhyGroup } from "@/lib/quality/why/why-reading";
import { WHY_WORDS } from "../words";
import styles from "../why.module.css";

const words = WHY_WORDS.one;

type GroupRowsProps = Readonly<{
  groups: readonly WhyGroup[];
  /** How a value of the picture is said. */
  say: (value: number) => string;
  nameOf: (group: WhyGroup) => string;
}>;

/** Groups under each other at one scale, the numbers beside them. */
export function GroupRows({ groups, say, nameOf }: GroupRowsProps) {
  const { rows, ticks } = layoutGroupRows(groups);
  return (
    <div className={styles.groups}>
      {groups.map((group, at) => {
        const row = rows[at];
        const { mean, interval, cells } = group;
        const out = cells.filter(({ isOutlying }) => isOutlying).length;
        if (row === undefined) return null;
        return (
          <div key={group.name} className={styles.groupRow}>
            <span className={group.differs || out > 0 ? styles.loudName : undefined} aria-hidden="true">
              {nameOf(group)}
            </span>
            <svg
              viewBox={`0 0 ${GROUP_ROW.width} ${GROUP_ROW.height}`}
              preserveAspectRatio="none"
              role="img"
              aria-label={words.rowAlternative(
                nameOf(group),
                say(mean),
                interval === null ? words.oneShift : words.between(say(interval[0]), say(interval[1])),
                cells.length,
                out,
              )}
            >
              <path className={styles.interval} d={row.interval} />
              <path className={styles.dots} d={row.dots} />
              <path className={styles.outDots} d={row.outlying} />
              <path className={styles.meanTick} d={row.mean} />
            </svg>
            <b aria-hidden="true">{say(mean)}</b>
          </div>
        );
      })}
      <div className={styles.groupRow} aria-hidden="true">
        <span />
        <div className={styles.axis}>
          {ticks.map(({ at, value }) => (
            <small key={value} style={{ left: `${at}%` }}>
              {say(value)}
            </small>
          ))}
        </div>
        <span />
      </div>
    </div>
  );
}
