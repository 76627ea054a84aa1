import { clockPoint, enlargementFactor } from "@/lib/charts/clock-face";
import { clockCaption, layoutClock, type ClockMark } from "@/lib/charts/clock-layout";
import type { ShellDimensions } from "@/lib/charts/shell-asked";
import type { AxisOffset } from "@/lib/charts/shell-section";
import type { Seat } from "@/lib/core/metrology/reading-name";
import { formatOclock, formatSideOfView } from "@/lib/format/clock-text";
import { formatCount, formatMm } from "@/lib/format/number-text";
import styles from "./drawing.module.css";
import { Arrow, ClockMarks, ClockRing, useHatch } from "./drawing-parts";

const SIZE = 300;
const NUMERAL_RADIUS = 130;
const OUTER_RADIUS = 104;

type ClockPlotProps = Readonly<{
  drawing: ShellDimensions;
  side: Seat;
  /** Which seat is looked at, for the caption. */
  seat?: Seat | null;
  marks?: readonly ClockMark[];
  /** Offset of an axis, drawn as an arrow from the centre, enlarged; `move` is the blue arrow of an advice. */
  offset?: { readonly towards12Um: number; readonly towards3Um: number; readonly tone: "no" | "ok" | "move" } | null;
  /** Diameter of the zone in µm, drawn as a circle by the same enlargement. */
  zoneUm?: number;
  caption?: string;
}>;

/** The clock face of a shell from either side, with directions or with an offset. */
export function ClockPlot({ drawing, side, seat = null, marks = [], offset = null, zoneUm, caption }: ClockPlotProps) {
  const hatch = useHatch();
  const face = { cx: SIZE / 2, cy: SIZE / 2, side };
  const outside = Math.max(drawing.shellOutsideDiameterMm, drawing.faceOutsideDiameterMm);
  const pxPerMm = (2 * OUTER_RADIUS) / outside;
  const boreRadius = (drawing.nominalBoreMm / 2) * pxPerMm;
  const layout = layoutClock(face, { radius: boreRadius, plateRadius: NUMERAL_RADIUS }, marks);
  const words = caption ?? clockCaption(seat, side);
  const shown = offset ? layoutOffset(offset, pxPerMm, boreRadius, zoneUm) : null;
  const tip = shown ? clockPoint(face, shown.lengthPx, shown.towardsDeg) : null;
  const quiet = offset?.tone === "ok";
  return (
    <svg
      className={styles.drawing}
      viewBox={`0 0 ${SIZE} ${SIZE + (shown ? 46 : 24)}`}
      role="img"
      aria-label={shown ? `${words}: ${shown.text}` : words}
    >
      <defs>{hatch.definition}</defs>
      <ClockRing
        face={face}
        outerRadius={OUTER_RADIUS}
        boreRadius={boreRadius}
        numeralRadius={NUMERAL_RADIUS}
        hatchFill={hatch.fill}
        covered={layout.plates.map((plate) => plate.text)}
      />
      {shown?.zoneRadiusPx ? (
        <circle className={styles.limitLine} cx={face.cx} cy={face.cy} r={shown.zoneRadiusPx} />
      ) : null}
      <ClockMarks layout={layout} face={face} />
      {tip && offset ? (
        <Arrow
          from={{ x: face.cx, y: face.cy }}
          to={tip}
          className={
            offset.tone === "move"
              ? styles.askedArrow
              : quiet
                ? `${styles.offsetLine} ${styles.quiet}`
                : styles.offsetLine
          }
          headClassName={offset.tone === "move" ? styles.fillBlue : quiet ? styles.fillInk : styles.fillNo}
        />
      ) : null}
      <text className={styles.caption} x={SIZE / 2} y={SIZE + 14} textAnchor="middle" fontSize="17">
        {words}
      </text>
      {shown ? (
        <text className={styles.caption} x={SIZE / 2} y={SIZE + 36} textAnchor="middle" fontSize="17">
          offset drawn {formatCount(shown.factor)} times larger
        </text>
      ) : null}
    </svg>
  );
}

function layoutOffset(
  offset: Pick<AxisOffset, "towards12Um" | "towards3Um">,
  pxPerMm: number,
  roomPx: number,
  zoneUm?: number,
) {
  const lengthMm = Math.hypot(offset.towards12Um, offset.towards3Um) / 1000;
  const largest = Math.max(lengthMm, (zoneUm ?? 0) / 2000);
  const factor = enlargementFactor(largest, pxPerMm, roomPx * 0.88);
  const towardsDeg = (Math.atan2(offset.towards3Um, offset.towards12Um) * 180) / Math.PI;
  return {
    factor,
    towardsDeg,
    lengthPx: lengthMm * factor * pxPerMm,
    zoneRadiusPx: zoneUm ? (zoneUm / 2000) * factor * pxPerMm : null,
    text: `${formatMm(lengthMm)} towards ${formatOclock(towardsDeg)}, ${formatSideOfView("ds")}`,
  };
}
