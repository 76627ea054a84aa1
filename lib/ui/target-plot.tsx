import { layoutTarget, type TargetInput } from "@/lib/charts/target-layout";
import { formatSideOfView } from "@/lib/format/clock-text";
import { formatCounted, formatMm, formatSizeMm, type DecimalSign } from "@/lib/format/number-text";
import styles from "./drawing.module.css";
import { Arrow, ClockRing, useHatch } from "./drawing-parts";
import { MARK_DRAWINGS } from "./state-mark";

const SIZE = 690;

type TargetPlotProps = Readonly<
  Omit<TargetInput, "sizePx"> & {
    /** "baseline", "since 04388": the names of the two stretches. */
    baselineName?: string;
    recentName?: string;
    /** Share of frames inside the ellipse, in words. */
    ellipseName?: string;
    decimal?: DecimalSign;
  }
>;

/** Offsets of the NDS axis from the DS axis as a target: the zone, the frames, their mean and the move to make. */
export function TargetPlot({
  baselineName = "baseline",
  recentName = "since",
  ellipseName = "95 % of frames",
  decimal,
  ...input
}: TargetPlotProps) {
  const hatch = useHatch();
  const plot = layoutTarget({ ...input, sizePx: SIZE });
  const { face } = plot;
  const limitMm = formatSizeMm(input.zoneUm / 2000, 0.001, decimal);
  const zoneMm = formatSizeMm(input.zoneUm / 1000, 0.001, decimal);
  const meanMm = input.mean ? Math.hypot(input.mean.towards12Um, input.mean.towards3Um) / 1000 : 0;
  const labelX = face.cx - plot.limitRadius * 0.66;
  const labelY = face.cy - plot.limitRadius * 0.66;
  const leaderEnd = plot.mean ? { x: plot.mean.x - 44, y: Math.min(plot.mean.y + 116, SIZE - 130) } : null;
  return (
    <div>
      <svg
        className={styles.drawing}
        viewBox={`0 0 ${SIZE} ${SIZE}`}
        role="img"
        aria-label={`Target plot, ${formatSideOfView(input.side)}: ${formatCounted(plot.outside.length, "frame")} outside the zone of diameter ${zoneMm} mm${input.mean ? `, mean offset ${formatMm(meanMm)}` : ""}`}
      >
        <defs>{hatch.definition}</defs>
        <ClockRing
          face={face}
          outerRadius={plot.outerRadius}
          boreRadius={plot.boreRadius}
          numeralRadius={plot.numeralRadius}
          hatchFill={hatch.fill}
        />
        {plot.rings.map((ring) => (
          <circle key={ring.radius} className={styles.construction} cx={face.cx} cy={face.cy} r={ring.radius} />
        ))}
        <circle className={styles.limitLine} cx={face.cx} cy={face.cy} r={plot.limitRadius} />
        <path className={styles.mutedPoints} d={plot.baselineDots} />
        {plot.ellipse ? (
          <ellipse
            className={styles.ellipse}
            rx={plot.ellipse.rx}
            ry={plot.ellipse.ry}
            transform={`translate(${plot.ellipse.x} ${plot.ellipse.y}) rotate(${plot.ellipse.turnDeg})`}
          />
        ) : null}
        <path className={styles.inkPoints} d={plot.insideDots} />
        {plot.rings.map((ring) =>
          ring.label ? (
            <text
              key={ring.label}
              className={`${styles.caption} ${styles.halo}`}
              x={face.cx - 5}
              y={face.cy - ring.radius + 5}
              textAnchor="end"
              fontSize="14"
            >
              {decimal === "," ? ring.label.replace(".", ",") : ring.label}
            </text>
          ) : null,
        )}
        <text className={`${styles.live} ${styles.halo}`} x={labelX} y={labelY} fontSize="16">
          limit {limitMm}
        </text>
        <text className={`${styles.caption} ${styles.halo}`} x={labelX} y={labelY + 18} fontSize="14">
          zone ø {zoneMm} mm
        </text>
        {plot.mean && leaderEnd ? (
          <>
            <path
              className={styles.leader}
              d={`M${plot.mean.x} ${plot.mean.y + plot.mean.circleRadius}L${leaderEnd.x} ${leaderEnd.y}`}
            />
            <circle className={styles.meanCircle} cx={plot.mean.x} cy={plot.mean.y} r={plot.mean.circleRadius} />
            <path
              className={styles.curve}
              d={`M${plot.mean.x - 8} ${plot.mean.y}h16M${plot.mean.x} ${plot.mean.y - 8}v16`}
            />
            <text
              className={`${styles.blueText} ${styles.halo}`}
              x={leaderEnd.x}
              y={leaderEnd.y + 18}
              textAnchor="middle"
              fontSize="17"
            >
              mean {formatMm(meanMm, 0.001, decimal)}
            </text>
          </>
        ) : null}
        {plot.move ? (
          <Arrow
            from={plot.move.from}
            to={plot.move.to}
            className={styles.askedArrow}
            headClassName={styles.fillBlue}
          />
        ) : null}
        {plot.outside.map((point) => (
          <g key={point.serial}>
            <circle className={styles.fillSheet} cx={point.x} cy={point.y} r="9" />
            <svg
              className={styles.noMark}
              x={point.x - 12}
              y={point.y - 12}
              width="24"
              height="24"
              viewBox="0 0 24 24"
              aria-hidden="true"
            >
              {MARK_DRAWINGS.bar}
            </svg>
            {point.label ? (
              <text
                className={`${styles.serial} ${styles.halo}`}
                x={point.label.x}
                y={point.label.y}
                textAnchor={point.label.anchor}
                fontSize={point.label.size}
              >
                {point.label.text}
              </text>
            ) : null}
          </g>
        ))}
      </svg>
      <p className={styles.legend}>
        <span>
          <i className={styles.mutedDot} />
          {baselineName}, {formatCounted(input.baseline.length, "frame")}
        </span>
        <span>
          <i className={styles.inkDot} />
          {recentName}, {formatCounted(input.recent.length, "frame")}
        </span>
        {plot.ellipse ? <span>dashed: {ellipseName}</span> : null}
        <span>{formatSideOfView(input.side)}</span>
      </p>
    </div>
  );
}
