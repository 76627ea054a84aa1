import { linePath } from "@/lib/charts/clock-face";
import { layoutTarget, type TargetInput, type TargetLabelKind } from "@/lib/charts/target-layout";
import { formatSideOfView } from "@/lib/format/clock-text";
import { formatMm, formatSizeMm } from "@/lib/format/number-text";
import { UI_WORDS } from "./words";
import styles from "./drawing.module.css";
import { Arrow, ClockRing, useHatch } from "./drawing-parts";
import { MARK_DRAWINGS } from "./state-mark";

const words = UI_WORDS.targetPlot;

const SIZE = 690;

const LABEL_CLASS: Readonly<Record<TargetLabelKind, string | undefined>> = {
  limit: styles.live,
  zone: styles.caption,
  mean: styles.blueText,
  ring: styles.caption,
  serial: styles.serial,
};

type TargetPlotProps = Readonly<
  Omit<TargetInput, "sizePx"> & {
    /** "baseline", "since 04388": the names of the two stretches. */
    baselineName?: string;
    recentName?: string;
    /** Share of frames inside the ellipse, in words. */
    ellipseName?: string;
  }
>;

/** Offsets of the NDS axis from the DS axis as a target: the zone, the frames, their mean and the move to make. */
export function TargetPlot({
  baselineName = "baseline",
  recentName = "since",
  ellipseName = words.partOfFrames,
  ...input
}: TargetPlotProps) {
  const hatch = useHatch();
  const plot = layoutTarget({ ...input, sizePx: SIZE });
  const { face } = plot;
  const zoneMm = formatSizeMm(input.zoneUm / 1000, 0.001, input.decimal);
  const meanMm = input.mean ? Math.hypot(input.mean.towards12Um, input.mean.towards3Um) / 1000 : 0;
  return (
    <div>
      <svg
        className={styles.drawing}
        viewBox={`0 0 ${SIZE} ${SIZE}`}
        role="img"
        aria-label={words.targetPlot(
          formatSideOfView(input.side),
          plot.outside.length,
          zoneMm,
          input.mean ? words.meanOffset(formatMm(meanMm)) : "",
        )}
      >
        <defs>{hatch.definition}</defs>
        <ClockRing
          face={face}
          outerRadius={plot.outerRadius}
          boreRadius={plot.boreRadius}
          numeralRadius={plot.numeralRadius}
          hatchFill={hatch.fill}
        />
        {plot.rings.map((radius) => (
          <circle key={radius} className={styles.construction} cx={face.cx} cy={face.cy} r={radius} />
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
        {plot.mean ? (
          <>
            {plot.mean.leaderTo ? <path className={styles.leader} d={linePath(plot.mean, plot.mean.leaderTo)} /> : null}
            <circle className={styles.meanCircle} cx={plot.mean.x} cy={plot.mean.y} r={plot.mean.circleRadius} />
            <path
              className={styles.curve}
              d={`M${plot.mean.x - 8} ${plot.mean.y}h16M${plot.mean.x} ${plot.mean.y - 8}v16`}
            />
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
          </g>
        ))}
        {plot.labels.map((label) => (
          <text
            key={`${label.kind} ${label.x} ${label.y}`}
            className={`${LABEL_CLASS[label.kind]} ${styles.halo}`}
            x={label.x}
            y={label.y}
            textAnchor={label.anchor}
            fontSize={label.size}
          >
            {label.text}
          </text>
        ))}
      </svg>
      <p className={styles.legend}>
        <span>
          <i className={styles.mutedDot} />
          {baselineName}, {words.frames(input.baseline.length)}
        </span>
        <span>
          <i className={styles.inkDot} />
          {recentName}, {words.frames(input.recent.length)}
        </span>
        {plot.ellipse ? <span>{words.dashed(ellipseName)}</span> : null}
        <span>{formatSideOfView(input.side)}</span>
      </p>
    </div>
  );
}
