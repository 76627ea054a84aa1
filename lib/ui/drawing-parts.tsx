import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import { useId } from "react";
import { clockNumerals, clockTicks, linePath, type ClockFace, type Point } from "@/lib/charts/clock-face";
import type { ClockLayout } from "@/lib/charts/clock-layout";
import styles from "./drawing.module.css";

/** Hatch at 45 degrees, 7 px apart, for cut walls; its id is returned by the hook so that two drawings do not share it. */
export function useHatch() {
  const id = `hatch${useId().replace(/[^a-zA-Z0-9]/g, "")}`;
  return {
    fill: `url(#${id})`,
    definition: (
      <pattern id={id} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
        <path d="M0 0v7" stroke="var(--hatch)" strokeWidth="1.2" />
      </pattern>
    ),
  };
}

/** The head of an arrow whose tip is at `to`, as a closed path. */
export function arrowHeadPath(from: Point, to: Point, length: number, halfWidth: number): string {
  const distance = Math.hypot(to.x - from.x, to.y - from.y) || 1;
  const ux = (to.x - from.x) / distance;
  const uy = (to.y - from.y) / distance;
  const base = { x: to.x - ux * length, y: to.y - uy * length };
  const left = { x: base.x - uy * halfWidth, y: base.y + ux * halfWidth };
  const right = { x: base.x + uy * halfWidth, y: base.y - ux * halfWidth };
  return `${linePath(to, left)}L${plainDecimals(right.x, 1)} ${plainDecimals(right.y, 1)}Z`;
}

type ArrowProps = Readonly<{
  from: Point;
  to: Point;
  className?: string;
  headClassName?: string;
  both?: boolean;
  head?: number;
}>;

/** A thick arrow with drawn heads. */
export function Arrow({ from, to, className, headClassName, both = false, head = 18 }: ArrowProps) {
  const distance = Math.hypot(to.x - from.x, to.y - from.y) || 1;
  const cut = Math.min(head * 0.9, distance / 2) / distance;
  const end = { x: to.x - (to.x - from.x) * cut, y: to.y - (to.y - from.y) * cut };
  const start = both ? { x: from.x + (to.x - from.x) * cut, y: from.y + (to.y - from.y) * cut } : from;
  return (
    <>
      <path className={className} d={linePath(start, end)} />
      <path className={headClassName} d={arrowHeadPath(from, to, head, head * 0.3)} />
      {both ? <path className={headClassName} d={arrowHeadPath(to, from, head, head * 0.3)} /> : null}
    </>
  );
}

type ClockRingProps = Readonly<{
  face: ClockFace;
  outerRadius: number;
  boreRadius: number;
  numeralRadius: number;
  hatchFill: string;
  numeralSize?: number;
  /** Numerals under plates are left out. */
  covered?: readonly string[];
  quartersOnly?: boolean;
}>;

/** The wall of the shell as a hatched ring with the hours round it. */
export function ClockRing({
  face,
  outerRadius,
  boreRadius,
  numeralRadius,
  hatchFill,
  numeralSize = 20,
  covered = [],
  quartersOnly = false,
}: ClockRingProps) {
  const axisReach = numeralRadius - numeralSize * 0.75;
  return (
    <>
      <circle
        cx={face.cx}
        cy={face.cy}
        r={(outerRadius + boreRadius) / 2}
        fill="none"
        stroke={hatchFill}
        strokeWidth={outerRadius - boreRadius}
      />
      <circle className={styles.edge} cx={face.cx} cy={face.cy} r={outerRadius} />
      <circle className={styles.seatLine} cx={face.cx} cy={face.cy} r={boreRadius} />
      <path className={styles.tick} d={clockTicks(face, outerRadius + 3, outerRadius + 9)} />
      <path
        className={styles.axis}
        d={
          linePath({ x: face.cx - axisReach, y: face.cy }, { x: face.cx + axisReach, y: face.cy }) +
          linePath({ x: face.cx, y: face.cy - axisReach }, { x: face.cx, y: face.cy + axisReach })
        }
      />
      {clockNumerals(face, numeralRadius)
        .filter((numeral) => !covered.includes(String(numeral.hour)) && (!quartersOnly || numeral.quarter))
        .map((numeral) => (
          <text
            key={numeral.hour}
            className={numeral.quarter ? styles.quarter : styles.numeral}
            x={numeral.x}
            y={numeral.y + numeralSize * 0.35}
            textAnchor="middle"
            fontSize={numeralSize}
          >
            {numeral.hour}
          </text>
        ))}
    </>
  );
}

const LINE_CLASS = { read: styles.thin, "to come": styles.toCome } as const;

/** The thick blue arrow of what is asked for. */
export function AskedArrow(props: Readonly<{ from: Point; to: Point; both: boolean }>) {
  return <Arrow {...props} className={styles.askedArrow} headClassName={styles.fillBlue} />;
}

/** Directions, positions, values and plates on a clock. */
export function ClockMarks({ layout, face }: Readonly<{ layout: ClockLayout; face: ClockFace }>) {
  return (
    <>
      {layout.lines.map((line) =>
        line.state === "asked" ? (
          <AskedArrow key="asked" from={line.from} to={line.to} both={layout.plates.length > 1} />
        ) : (
          <path
            key={linePath(line.from, line.to)}
            className={LINE_CLASS[line.state]}
            d={linePath(line.from, line.to)}
          />
        ),
      )}
      {layout.dots.map((dot) => (
        <circle
          key={`${dot.x} ${dot.y}`}
          cx={dot.x}
          cy={dot.y}
          r={dot.state === "asked" ? 8 : 4.5}
          className={dot.state === "asked" ? styles.fillBlue : dot.state === "read" ? styles.fillInk : styles.openDot}
        />
      ))}
      {layout.labels.map((label) => (
        <text
          key={`${label.text} ${label.x} ${label.y}`}
          className={label.asked ? `${styles.askedText} ${styles.halo}` : `${styles.live} ${styles.halo}`}
          x={label.x}
          y={label.y}
          textAnchor={label.anchor}
          fontSize={label.size}
        >
          {label.text}
        </text>
      ))}
      {layout.plates.map((plate) => (
        <g key={`${plate.text} ${plate.x}`}>
          <circle className={styles.fillBlue} cx={plate.x} cy={plate.y} r={plate.text.length > 2 ? 23 : 19} />
          <text
            className={styles.plateText}
            x={plate.x}
            y={plate.y + (plate.text.length > 2 ? 6 : 8.5)}
            textAnchor="middle"
            fontSize={plate.text.length > 2 ? 17 : 25}
          >
            {plate.text}
          </text>
        </g>
      ))}
      <circle className={styles.fillInk} cx={face.cx} cy={face.cy} r="1.6" />
    </>
  );
}
