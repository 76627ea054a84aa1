import { layoutShellSheet, type ShellSheet, type ShellSheetInput } from "@/lib/charts/shell-sheet";
import type { SectionLabelKind, SectionPathKind } from "@/lib/charts/shell-asked";
import type { ShellSection } from "@/lib/charts/shell-section";
import { formatReading } from "@/lib/format/reading-text";
import type { Seat } from "@/lib/core/metrology/reading-name";
import { UI_WORDS } from "./words";
import styles from "./drawing.module.css";
import { AskedArrow, ClockMarks, ClockRing, useHatch } from "./drawing-parts";
import { MARK_DRAWINGS, MARK_OF_STATE, type MarkedState } from "./state-mark";

const words = UI_WORDS.shellDrawing;

const PATH_CLASS: Readonly<Record<SectionPathKind, string | undefined>> = {
  wall: styles.wall,
  edge: styles.edge,
  axis: styles.axis,
  thin: styles.thin,
  "to come": styles.toCome,
  asked: styles.asked,
  "asked thin": styles.askedThin,
  body: styles.body,
  dimension: styles.thin,
  "asked dimension": styles.askedThin,
};

const LABEL_CLASS: Readonly<Record<SectionLabelKind, string | undefined>> = {
  dimension: styles.dimension,
  live: styles.live,
  waiting: styles.waiting,
  asked: styles.askedText,
  hint: styles.hint,
  name: styles.name,
  "asked name": styles.askedName,
};

const REMARK_CLASS = {
  ok: styles.okText,
  half: styles.maybeText,
  bar: styles.noText,
  flag: styles.dimension,
  wait: styles.dimension,
};
const MARK_CLASS = { ok: styles.okMark, half: styles.maybeMark, bar: styles.noMark, flag: "", wait: "" };

/** What is known of a seat so far, under its name: "8 of 8 conform". */
export type SeatRemark = { readonly state: MarkedState; readonly text: string };

export function SectionView({
  section,
  hatchFill,
  remarks = {},
}: Readonly<{ section: ShellSection; hatchFill: string; remarks?: Partial<Record<Seat, SeatRemark>> }>) {
  return (
    <>
      {section.paths.map((path) => (
        <path
          key={`${path.kind} ${path.d}`}
          className={PATH_CLASS[path.kind]}
          d={path.d}
          fill={path.kind === "wall" ? hatchFill : undefined}
        />
      ))}
      {section.arrowheads.map((head) => (
        <path key={head.d} className={head.asked ? styles.fillBlue : styles.fillInk} d={head.d} />
      ))}
      {section.arrow ? <AskedArrow {...section.arrow} both /> : null}
      {section.dots.map((dot) => (
        <g key={`${dot.x} ${dot.y}`}>
          <circle className={`${styles.fillSheet} ${styles.askedThin}`} cx={dot.x} cy={dot.y} r="8.5" />
          {dot.kind === "contact behind" ? null : (
            <circle className={styles.fillBlue} cx={dot.x} cy={dot.y} r={dot.kind === "through" ? 3.2 : 8.5} />
          )}
        </g>
      ))}
      {section.labels.map((label) => (
        <text
          key={`${label.text} ${label.x} ${label.y}`}
          className={LABEL_CLASS[label.kind]}
          x={label.x}
          y={label.y}
          textAnchor={label.anchor}
          fontSize={label.size}
          xmlSpace="preserve"
        >
          {label.text}
        </text>
      ))}
      {(["ds", "nds"] as const).map((seat) => {
        const remark = remarks[seat];
        if (!remark) return null;
        const at = section.remarks[seat];
        const shape = MARK_OF_STATE[remark.state];
        const start = at.anchor === "start";
        return (
          <g key={seat}>
            <svg
              className={MARK_CLASS[shape]}
              x={start ? at.x : at.x - 20}
              y={at.y - 15}
              width="20"
              height="20"
              viewBox="0 0 24 24"
              aria-hidden="true"
            >
              {MARK_DRAWINGS[shape]}
            </svg>
            <text
              className={REMARK_CLASS[shape]}
              x={start ? at.x + 27 : at.x - 27}
              y={at.y}
              textAnchor={at.anchor}
              fontSize="18"
            >
              {remark.text}
            </text>
          </g>
        );
      })}
    </>
  );
}

function Sheet({
  sheet,
  label,
  remarks,
}: Readonly<{ sheet: ShellSheet; label: string; remarks?: Partial<Record<Seat, SeatRemark>> }>) {
  const hatch = useHatch();
  const { clock } = sheet;
  return (
    <svg
      className={styles.drawing}
      viewBox={`0 0 ${sheet.width} ${Math.round(sheet.height)}`}
      role="img"
      aria-label={label}
    >
      <defs>{hatch.definition}</defs>
      <SectionView section={sheet.section} hatchFill={hatch.fill} remarks={remarks} />
      <ClockRing {...clock} hatchFill={hatch.fill} covered={clock.plates.map((plate) => plate.text)} />
      <ClockMarks layout={clock} face={clock.face} />
      <text className={styles.caption} x={clock.caption.x} y={clock.caption.y} textAnchor="middle" fontSize="18">
        {clock.caption.text}
      </text>
    </svg>
  );
}

type ShellDrawingProps = Readonly<
  Omit<ShellSheetInput, "widthPx" | "arrangement"> & {
    /** `fit` changes from a row to a column where there is little width. */
    arrangement?: "row" | "column" | "fit";
    remarks?: Partial<Record<Seat, SeatRemark>>;
  }
>;

const ROW_WIDTH = 810;
const COLUMN_WIDTH = 400;

/** The shell as a section along its axis and its clock, from the drawing's dimensions; what is asked for stands out in blue. */
export function ShellDrawing({ arrangement = "fit", remarks, ...input }: ShellDrawingProps) {
  const asked = input.asked ? formatReading(input.asked, input.side, input.decimal) : null;
  const view = input.side === "ds" ? words.driveSide : words.nonDriveSide;
  const label = words.shellInSectionAlongAxis(view, asked ? words.askedFor(asked.title, asked.detail) : "");
  const row = arrangement === "column" ? null : layoutShellSheet({ ...input, arrangement: "row", widthPx: ROW_WIDTH });
  const column =
    arrangement === "row" ? null : layoutShellSheet({ ...input, arrangement: "column", widthPx: COLUMN_WIDTH });
  return (
    <div className={styles.fit}>
      {row ? (
        <div className={column ? styles.fitRow : undefined}>
          <Sheet sheet={row} label={label} remarks={remarks} />
        </div>
      ) : null}
      {column ? (
        <div className={row ? styles.fitColumn : undefined}>
          <Sheet sheet={column} label={label} remarks={remarks} />
        </div>
      ) : null}
    </div>
  );
}
