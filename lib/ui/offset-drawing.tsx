import { layoutShellSection, type AxisOffset } from "@/lib/charts/shell-section";
import type { ShellDimensions } from "@/lib/charts/shell-asked";
import { clockNumerals, clockPoint, clockTicks, linePath } from "@/lib/charts/clock-face";
import { formatOclock, formatSideOfView } from "@/lib/format/clock-text";
import { formatCount, formatMm, formatSizeMm, type DecimalSign } from "@/lib/format/number-text";
import type { Seat } from "@/lib/core/metrology/reading-name";
import styles from "./drawing.module.css";
import { Arrow, useHatch } from "./drawing-parts";
import { SectionView } from "./shell-drawing";

const WIDTH = 438;
const LINE_HEIGHT = 24;
/** Under this an offset is 0.000 mm to the reader, µm. */
const LEAST_SHOWN_UM = 0.5;

type OffsetDrawingProps = Readonly<{
  drawing: ShellDimensions;
  offset: AxisOffset;
  /** Zone diameter found and its limit, µm. */
  zoneUm: number;
  limitUm: number | null;
  conforms: boolean;
  meansMm?: Partial<Record<Seat, number>>;
  side?: Seat;
  decimal?: DecimalSign;
}>;

/**
 * Where a line of text stands, by its distance from the axis: further out where another one stands already, or nearer to the axis
 * where the wall is in the way.
 */
function clearOf(y: number, otherY: number | undefined, mostY: number): number {
  if (otherY === undefined || Math.abs(otherY - y) >= LINE_HEIGHT) return y;
  const outwards = Math.sign(mostY) * LINE_HEIGHT;
  return Math.abs(otherY + outwards) <= Math.abs(mostY) ? otherY + outwards : otherY - outwards;
}

/** The NDS axis against the DS axis, in the section and on the clock, enlarged by one stated factor. */
export function OffsetDrawing({
  drawing,
  offset,
  zoneUm,
  limitUm,
  conforms,
  meansMm = {},
  side = "ds",
  decimal,
}: OffsetDrawingProps) {
  const hatch = useHatch();
  const pxPerMm = Math.min((WIDTH - 100) / drawing.widthMm, 200 / drawing.shellOutsideDiameterMm);
  const x0 = (WIDTH - drawing.widthMm * pxPerMm) / 2;
  const section = layoutShellSection({
    drawing,
    pxPerMm,
    x0,
    side: "ds",
    sections: [],
    asked: null,
    offset,
    plain: true,
    decimal,
  });
  const radius = 58;
  const face = { cx: 106, cy: section.height + 104, side };
  const lengthMm = Math.hypot(offset.towards12Um, offset.towards3Um) / 1000;
  const towardsDeg = (Math.atan2(offset.towards3Um, offset.towards12Um) * 180) / Math.PI;
  const factor = section.enlargement ?? 1;
  const tip = clockPoint(face, Math.min(lengthMm * factor * pxPerMm, radius + 34), towardsDeg);
  // An offset that is shown as zero points nowhere.
  const isShown = lengthMm * 1000 >= LEAST_SHOWN_UM;
  const where = `${formatMm(lengthMm, 0.001, decimal)}${isShown ? ` to ${formatOclock(towardsDeg, side)}` : ""}`;
  const zone = `zone ø ${formatSizeMm(zoneUm / 1000, 0.001, decimal)}${limitUm === null ? "" : `, limit ø ${formatSizeMm(limitUm / 1000, 0.001, decimal)}`}`;
  const lines = [zone, formatSideOfView(side)];
  if (isShown && factor > 1) lines.push(`offset drawn ${formatCount(factor)} times larger`);
  const inner0 = x0 + drawing.seatDepthMm * pxPerMm;
  const inner1 = section.x1 - drawing.seatDepthMm * pxPerMm;
  // The names of the two seats stand on either side of the axis, that of the NDS on the side to which its axis went.
  const axisNameY = section.labels.find((label) => label.kind === "offset")?.y;
  const up = axisNameY !== undefined && axisNameY < section.axisY;
  const ndsNameY =
    section.axisY +
    clearOf(up ? -58 : 70, axisNameY === undefined ? undefined : axisNameY - section.axisY, up ? -62 : 72);
  const dsNameY = section.axisY + (up ? 34 : -40);
  return (
    <svg
      className={styles.drawing}
      viewBox={`0 0 ${WIDTH} ${Math.round(face.cy + 106)}`}
      role="img"
      aria-label={`NDS axis ${where} from the DS axis, ${zone} mm, ${formatSideOfView(side)}`}
    >
      <defs>{hatch.definition}</defs>
      <g className={conforms ? styles.quietOffset : undefined}>
        <SectionView
          section={{ ...section, labels: section.labels.filter((label) => label.kind === "offset") }}
          hatchFill={hatch.fill}
        />
      </g>
      <text className={styles.name} x={inner0 + 14} y={dsNameY} fontSize="20">
        DS{meansMm.ds === undefined ? " seat" : ` ø ${formatSizeMm(meansMm.ds, 0.001, decimal)}`}
      </text>
      <text className={styles.caption} x={inner0 + 14} y={dsNameY + 28} fontSize="18">
        datum A, DS axis
      </text>
      <text className={styles.name} x={inner1 - 14} y={ndsNameY} fontSize="20" textAnchor="end">
        NDS{meansMm.nds === undefined ? " seat" : ` ø ${formatSizeMm(meansMm.nds, 0.001, decimal)}`}
      </text>
      <circle className={`${styles.seatLine} ${styles.fillPaper}`} cx={face.cx} cy={face.cy} r={radius} />
      <path
        className={styles.axis}
        d={
          linePath({ x: face.cx - 76, y: face.cy }, { x: face.cx + 76, y: face.cy }) +
          linePath({ x: face.cx, y: face.cy - 70 }, { x: face.cx, y: face.cy + 70 })
        }
      />
      <path className={styles.tick} d={clockTicks(face, radius, radius + 6)} />
      {clockNumerals(face, 84)
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
      <Arrow
        from={{ x: face.cx, y: face.cy }}
        to={tip}
        className={conforms ? `${styles.offsetLine} ${styles.quiet}` : styles.offsetLine}
        headClassName={conforms ? styles.fillInk : styles.fillNo}
        head={14}
      />
      <text className={conforms ? styles.name : styles.noText} x="206" y={face.cy - 30} fontSize="20">
        {where}
      </text>
      {lines.map((line, index) => (
        <text
          key={line}
          className={index === 0 ? styles.dimension : styles.caption}
          x="206"
          y={face.cy - 4 + index * 24}
          fontSize="18"
        >
          {line}
        </text>
      ))}
    </svg>
  );
}
