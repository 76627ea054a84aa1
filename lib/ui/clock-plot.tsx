import { clockCaption, layoutClock, type ClockMark } from "@/lib/charts/clock-layout";
import type { ShellDimensions } from "@/lib/charts/shell-asked";
import type { Seat } from "@/lib/core/metrology/reading-name";
import styles from "./drawing.module.css";
import { ClockMarks, ClockRing, useHatch } from "./drawing-parts";

const SIZE = 300;
const NUMERAL_RADIUS = 130;
const OUTER_RADIUS = 104;

type ClockPlotProps = Readonly<{
  drawing: ShellDimensions;
  side: Seat;
  /** Which seat is looked at, for the caption. */
  seat?: Seat | null;
  marks?: readonly ClockMark[];
  caption?: string;
}>;

/** The clock face of a shell from either side, with directions or positions. */
export function ClockPlot({ drawing, side, seat = null, marks = [], caption }: ClockPlotProps) {
  const hatch = useHatch();
  const face = { cx: SIZE / 2, cy: SIZE / 2, side };
  const outside = Math.max(drawing.shellOutsideDiameterMm, drawing.faceOutsideDiameterMm);
  const pxPerMm = (2 * OUTER_RADIUS) / outside;
  const boreRadius = (drawing.nominalBoreMm / 2) * pxPerMm;
  const layout = layoutClock(face, { radius: boreRadius, plateRadius: NUMERAL_RADIUS }, marks);
  const words = caption ?? clockCaption(seat, side);
  return (
    <svg className={styles.drawing} viewBox={`0 0 ${SIZE} ${SIZE + 24}`} role="img" aria-label={words}>
      <defs>{hatch.definition}</defs>
      <ClockRing
        face={face}
        outerRadius={OUTER_RADIUS}
        boreRadius={boreRadius}
        numeralRadius={NUMERAL_RADIUS}
        hatchFill={hatch.fill}
        covered={layout.plates.map((plate) => plate.text)}
      />
      <ClockMarks layout={layout} face={face} />
      <text className={styles.caption} x={SIZE / 2} y={SIZE + 14} textAnchor="middle" fontSize="17">
        {words}
      </text>
    </svg>
  );
}
