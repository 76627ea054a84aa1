import { studyLayout } from "@/lib/charts/study-layout";
import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import type { CrossedLayout } from "@/lib/core/gauge-studies/crossed-layout";
import { formatSigned, withUnit } from "@/lib/format/number-text";
import styles from "./study.module.css";

const at = (value: number) => plainDecimals(value, 1);

/** Each reading of a study less the mean of its part: one row an inspector. */
export function StudyPlot({
  layout,
  scale,
  unit,
  label,
}: Readonly<{ layout: CrossedLayout; scale: number; unit: string; label: string }>) {
  const { width, height, left, right, columns, rows } = studyLayout(layout, scale);
  return (
    <div className={styles.sheet} tabIndex={0} role="region" aria-label={label}>
      <svg className={styles.plot} viewBox={`0 0 ${width} ${height}`} aria-hidden="true">
        {columns.map(({ x, part, isNamed }) => (
          <g key={part}>
            <path className={styles.grid} d={`M${at(x)} 24V${height}`} />
            {isNamed ? (
              <text className={styles.code} x={at(x)} y="14" textAnchor="middle">
                {part}
              </text>
            ) : null}
          </g>
        ))}
        {rows.map((row) => (
          <g key={row.inspector}>
            <text className={styles.name} x="0" y={at(row.zeroY + 4)}>
              {row.inspector}
            </text>
            {row.ticks.map(({ y, value }) => (
              <text key={value} className={styles.tick} x={left - 8} y={at(y + 4)} textAnchor="end">
                {value === 0 ? "0" : formatSigned(value, Number.isInteger(value) ? 0 : 1)}
              </text>
            ))}
            <path className={styles.zero} d={`M${left} ${at(row.zeroY)}H${right}`} />
            <path className={styles.foot} d={`M${left} ${row.bottom}H${right}`} />
            {row.points.map(({ x, y }, place) => (
              <circle key={place} className={styles.point} cx={at(x)} cy={at(y)} r="3.2" />
            ))}
            {row.cells.map(({ x1, x2, y }) => (
              <path key={x1} className={styles.cell} d={`M${at(x1)} ${at(y)}H${at(x2)}`} />
            ))}
            <path className={styles.mean} d={`M${left} ${at(row.meanY)}H${right}`} />
            <text className={styles.effect} x={right + 8} y={at(row.meanY + 5)}>
              {withUnit(formatSigned(row.mean, 1), unit)}
            </text>
          </g>
        ))}
      </svg>
    </div>
  );
}
