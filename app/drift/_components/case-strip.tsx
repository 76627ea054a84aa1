import type { CasePlaces, CaseSeries } from "@/lib/quality/cases/case-series";
import { layoutCaseStrip, STRIP } from "@/lib/charts/case-strip";
import styles from "./case-strip.module.css";

type CaseStripProps = Readonly<{
  series: readonly CaseSeries[];
  places: CasePlaces;
  /** Frames of the axis. */
  frames: number;
  /** Name of each row, what changed in it, and both in a sentence for those who do not see it. */
  labels: readonly Readonly<{ name: string; change: string; alternative: string }>[];
  /** What stands under the axis: since when, and what was done. */
  foot: string;
}>;

/** The streams of a case under each other on one axis of frames, small. */
export function CaseStrip({ series, places, frames, labels, foot }: CaseStripProps) {
  const { band, rows } = layoutCaseStrip(series, places, frames);
  return (
    <figure className={styles.strip}>
      {rows.map((row, at) => {
        const label = labels[at];
        return (
          <div key={label?.name} className={styles.row}>
            <span className={styles.name} aria-hidden="true">
              {label?.name}
            </span>
            <svg
              viewBox={`0 0 ${STRIP.width} ${STRIP.height}`}
              preserveAspectRatio="none"
              role="img"
              aria-label={label?.alternative}
            >
              <rect className={styles.band} x={band.x} width={band.width} y="0" height={STRIP.height} />
              {row.limits.map((limit) => (
                <path key={limit} className={styles.limit} d={limit} />
              ))}
              <path className={styles.before} d={row.before} />
              <path className={styles.since} d={row.since} />
              <path className={styles.outside} d={row.outside} />
              <path className={styles.level} d={row.levels} />
            </svg>
            <span className={styles.change} aria-hidden="true">
              {label?.change}
            </span>
          </div>
        );
      })}
      <figcaption className={styles.foot}>{foot}</figcaption>
    </figure>
  );
}
