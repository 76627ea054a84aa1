import { clockNumerals, clockTicks, linePath, type Point } from "@/lib/charts/clock-face";
import { layoutOffset, type OffsetInput, type OffsetLabelKind } from "@/lib/charts/offset-layout";
import { formatSideOfView } from "@/lib/format/clock-text";
import { UI_WORDS } from "./words";
import styles from "./drawing.module.css";
import { Arrow, useHatch } from "./drawing-parts";
import { SectionView } from "./shell-drawing";

const words = UI_WORDS.offsetDrawing;

/** A shorter arrow would be all head: a dot says where the axis is, pixels. */
const LEAST_ARROW = 9;
const HEAD = 14;

const LABEL_CLASS: Readonly<Record<OffsetLabelKind, string | undefined>> = {
  name: styles.name,
  note: styles.caption,
  axis: styles.noText,
  finding: styles.noText,
  zone: styles.dimension,
};

type OffsetDrawingProps = Readonly<OffsetInput & { conforms: boolean }>;

function OffsetArrow({ from, to, conforms }: Readonly<{ from: Point; to: Point; conforms: boolean }>) {
  const length = Math.hypot(to.x - from.x, to.y - from.y);
  const fill = conforms ? styles.fillInk : styles.fillNo;
  if (length < LEAST_ARROW) return <circle className={fill} cx={to.x} cy={to.y} r="4" />;
  return (
    <Arrow
      from={from}
      to={to}
      className={conforms ? `${styles.offsetLine} ${styles.quiet}` : styles.offsetLine}
      headClassName={fill}
      head={Math.min(HEAD, length * 0.6)}
    />
  );
}

/** The NDS axis against the DS axis, in the section and on the clock, enlarged by one stated scale that the limit fills. */
export function OffsetDrawing({ conforms, ...input }: OffsetDrawingProps) {
  const hatch = useHatch();
  const layout = layoutOffset(input);
  const { face, clockRadius } = layout;
  return (
    <svg
      className={styles.drawing}
      viewBox={`0 0 ${layout.width} ${layout.height}`}
      role="img"
      aria-label={words.ndsAxisFromDsAxis(layout.where, layout.zone, formatSideOfView(face.side))}
    >
      <defs>{hatch.definition}</defs>
      <SectionView section={{ ...layout.section, labels: [] }} hatchFill={hatch.fill} />
      <path className={styles.seatLine} d={layout.limits} />
      <circle className={`${styles.thin} ${styles.fillPaper}`} cx={face.cx} cy={face.cy} r={clockRadius} />
      <path
        className={styles.axis}
        d={
          linePath({ x: face.cx - clockRadius, y: face.cy }, { x: face.cx + clockRadius, y: face.cy }) +
          linePath({ x: face.cx, y: face.cy - clockRadius }, { x: face.cx, y: face.cy + clockRadius })
        }
      />
      <path className={styles.tick} d={clockTicks(face, clockRadius, clockRadius + 6)} />
      {clockNumerals(face, layout.numeralRadius)
        .filter((numeral) => numeral.quarter)
        .map((numeral) => (
          <text
            key={numeral.hour}
            className={styles.quarter}
            x={numeral.x}
            y={numeral.y + 6}
            textAnchor="middle"
            fontSize="18"
          >
            {numeral.hour}
          </text>
        ))}
      {layout.limitRadius === null ? null : (
        <circle className={styles.limitLine} cx={face.cx} cy={face.cy} r={layout.limitRadius} />
      )}
      <OffsetArrow from={{ x: face.cx, y: face.cy }} to={layout.tip} conforms={conforms} />
      <g className={conforms ? styles.quietOffset : undefined}>
        <path className={styles.offset} d={layout.axis} />
        {layout.labels.map((label) => (
          <text
            key={`${label.text} ${label.x}`}
            className={`${LABEL_CLASS[label.kind]} ${styles.halo}`}
            x={label.x}
            y={label.y}
            textAnchor={label.anchor}
            fontSize={label.size}
          >
            {label.text}
          </text>
        ))}
      </g>
    </svg>
  );
}
