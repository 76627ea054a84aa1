import { clockNumerals, linePath } from "@/lib/charts/clock-face";
import { layoutSweep, type SweepLayoutInput } from "@/lib/charts/sweep-layout";
import { formatSideOfView } from "@/lib/format/clock-text";
import { formatDeviationUm, formatUm } from "@/lib/format/number-text";
import { UI_WORDS } from "./words";
import styles from "./drawing.module.css";

const words = UI_WORDS.sweepPlot;

const SIZE = 320;

type SweepPlotProps = Readonly<
  Omit<SweepLayoutInput, "sizePx"> & {
    /** What was swept: "NDS seat, 8 mm deep". */
    title: string;
    closureLimitUm?: number;
    /** No further reading will come: a missing closing reading stays missing. */
    finished?: boolean;
  }
>;

/** The sweep while it is keyed: points as they come, the fitted curve, and whether it closes. */
export function SweepPlot({ title, closureLimitUm, finished = false, ...input }: SweepPlotProps) {
  const plot = layoutSweep({ ...input, sizePx: SIZE });
  const { face } = plot;
  const closes = plot.closureUm === null || closureLimitUm === undefined || Math.abs(plot.closureUm) <= closureLimitUm;
  const closure =
    plot.closureUm === null
      ? finished
        ? words.withoutClosingReading
        : words.notClosedYet
      : words.closesWithin(
          formatUm(Math.abs(plot.closureUm), 1),
          closureLimitUm === undefined ? "" : words.limit(formatUm(closureLimitUm, 1)),
        );
  const ring = plot.rings.at(-1);
  return (
    <svg
      className={styles.drawing}
      viewBox={`0 0 ${SIZE} ${SIZE + 52}`}
      role="img"
      aria-label={words.readings(title, formatSideOfView(input.side), input.points.length, closure)}
    >
      {plot.rings.map((each) => (
        <circle key={each.valueUm} className={styles.construction} cx={face.cx} cy={face.cy} r={each.radius} />
      ))}
      <circle className={styles.thin} cx={face.cx} cy={face.cy} r={plot.zeroRadius} />
      <circle className={styles.edge} cx={face.cx} cy={face.cy} r={plot.edgeRadius} />
      <path
        className={styles.axis}
        d={
          linePath({ x: face.cx - plot.edgeRadius, y: face.cy }, { x: face.cx + plot.edgeRadius, y: face.cy }) +
          linePath({ x: face.cx, y: face.cy - plot.edgeRadius }, { x: face.cx, y: face.cy + plot.edgeRadius })
        }
      />
      {clockNumerals(face, plot.numeralRadius).map((numeral) => (
        <text
          key={numeral.hour}
          className={numeral.quarter ? styles.quarter : styles.numeral}
          x={numeral.x}
          y={numeral.y + 6}
          textAnchor="middle"
          fontSize="17"
        >
          {numeral.hour}
        </text>
      ))}
      {plot.curve ? <path className={styles.curve} d={plot.curve} /> : null}
      {plot.asked ? (
        <>
          <path className={styles.askedThin} d={linePath({ x: face.cx, y: face.cy }, plot.asked)} />
          <circle className={styles.fillBlue} cx={plot.asked.x} cy={plot.asked.y} r="8" />
        </>
      ) : null}
      {plot.dots.map((dot, index) => (
        <circle key={`${index} ${dot.x}`} className={styles.fillInk} cx={dot.x} cy={dot.y} r="4" />
      ))}
      {ring ? (
        <text
          className={`${styles.caption} ${styles.halo}`}
          x={face.cx + 5}
          y={face.cy - ring.radius + 5}
          fontSize="13"
        >
          {formatDeviationUm(ring.valueUm)}
        </text>
      ) : null}
      <text className={styles.caption} x={face.cx} y={SIZE + 18} textAnchor="middle" fontSize="16">
        {title}, {formatSideOfView(input.side)}
      </text>
      <text
        className={closes ? styles.caption : styles.noText}
        x={face.cx}
        y={SIZE + 40}
        textAnchor="middle"
        fontSize="16"
      >
        {closure}
      </text>
    </svg>
  );
}
