import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import { type OcMark, type OcPoint, ocLayout } from "@/lib/charts/oc-layout";
import { UI_WORDS } from "./words";
import styles from "./oc-curve.module.css";

const words = UI_WORDS.ocCurve;
const at = (value: number) => plainDecimals(value, 1);

/** How often a plan accepts a lot, over the lot's quality; what the marks say stands in words beside it, too. */
export function OcCurve({
  curve,
  marks,
  label,
}: Readonly<{ curve: readonly OcPoint[]; marks: readonly OcMark[]; label: string }>) {
  const { width, height, frame, line, ticksX, ticksY, marks: placed } = ocLayout(curve, marks);
  return (
    <svg className={styles.plot} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={label}>
      {ticksY.map(({ y, text }) => (
        <g key={text}>
          <path className={styles.grid} d={`M${frame.left} ${at(y)}H${frame.right}`} />
          <text className={styles.tick} x={frame.left - 8} y={at(y + 5)} textAnchor="end">
            {text}
          </text>
        </g>
      ))}
      {ticksX.map(({ x, text }) => (
        <g key={text}>
          <path className={styles.foot} d={`M${at(x)} ${frame.bottom}v5`} />
          <text className={styles.tick} x={at(x)} y={frame.bottom + 20} textAnchor="middle">
            {text}
          </text>
        </g>
      ))}
      <path className={styles.foot} d={`M${frame.left} ${frame.bottom}H${frame.right}`} />
      <text className={styles.name} x={frame.right} y={height - 6} textAnchor="end">
        {words.nonconformingInLot}
      </text>
      <path className={styles.curve} d={`M${line.map(({ x, y }) => `${at(x)} ${at(y)}`).join("L")}`} />
      {placed.map((mark) => (
        <g key={mark.text}>
          <circle
            className={mark.isOwn ? styles.own : styles.mark}
            cx={at(mark.x)}
            cy={at(mark.y)}
            r={mark.isOwn ? 6 : 4.5}
          />
          <text className={styles.label} x={at(mark.label.x)} y={at(mark.label.y)} textAnchor={mark.label.anchor}>
            {mark.text}
          </text>
        </g>
      ))}
    </svg>
  );
}
