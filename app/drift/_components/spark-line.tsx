import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import styles from "../drift.module.css";

type SparkLineProps = Readonly<{
  values: readonly number[];
  control: { readonly center: number; readonly lower: number | null; readonly upper: number | null } | null;
}>;

const WIDTH = 240;
const HEIGHT = 48;

/** The newest frames of a stream as a small line between its control limits. */
export function SparkLine({ values, control }: SparkLineProps) {
  if (values.length < 2) return null;
  const levels = control === null ? [] : [control.center, control.lower, control.upper].filter((one) => one !== null);
  const low = Math.min(...values, ...levels);
  const high = Math.max(...values, ...levels);
  const span = high - low || 1;
  const y = (value: number) => plainDecimals(HEIGHT - 3 - ((value - low) / span) * (HEIGHT - 6), 1);
  const x = (index: number) => plainDecimals((index / (values.length - 1)) * WIDTH, 1);
  const rule = (value: number | null | undefined, className: string | undefined) =>
    value === null || value === undefined ? null : <path className={className} d={`M0 ${y(value)}H${WIDTH}`} />;
  return (
    <svg className={styles.spark} viewBox={`0 0 ${WIDTH} ${HEIGHT}`} preserveAspectRatio="none" aria-hidden="true">
      {rule(control?.center, styles.sparkCentre)}
      {rule(control?.lower, styles.sparkControl)}
      {rule(control?.upper, styles.sparkControl)}
      <path
        className={styles.sparkLine}
        d={values.map((value, index) => `${index === 0 ? "M" : "L"}${x(index)} ${y(value)}`).join("")}
      />
    </svg>
  );
}
