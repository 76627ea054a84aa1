import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import type { ClockFace } from "./clock-face";
import { clockCaption, layoutClock, type ClockLayout, type ClockMark } from "./clock-layout";
import { faceContactDiameterMm, type ShellDimensions } from "./shell-asked";
import { layoutShellSection, type SectionState, type ShellSection } from "./shell-section";
import type { DecimalSign } from "@/lib/format/number-text";

export type ShellSheetInput = {
  readonly drawing: ShellDimensions;
  /** Both views beside each other, or the clock under the section for a narrow screen. */
  readonly arrangement: "row" | "column";
  readonly widthPx: number;
  readonly side: Seat;
  readonly sections: readonly SectionState[];
  readonly asked: ReadingName | null;
  readonly marks: readonly ClockMark[];
  readonly decimal?: DecimalSign;
};

export type SheetClock = ClockLayout & {
  readonly face: ClockFace;
  readonly outerRadius: number;
  readonly boreRadius: number;
  readonly numeralRadius: number;
  readonly caption: { readonly x: number; readonly y: number; readonly text: string };
};

export type ShellSheet = {
  readonly width: number;
  readonly height: number;
  readonly pxPerMm: number;
  readonly section: ShellSection;
  readonly clock: SheetClock;
};

const SECTION_MARGIN = 36;
const BETWEEN = 34;
/** Room for numerals and their plates round the clock. */
const CLOCK_MARGIN = 48;
const TALLEST_BODY = 262;
const CAPTION_DROP = 66;

function askedSeatOf(asked: ReadingName | null): Seat | null {
  return asked && "seat" in asked ? asked.seat : null;
}

/** Radius on which positions are marked: the bore, or the circle that the face indicator runs on. */
function markRadiusMm(drawing: ShellDimensions, asked: ReadingName | null): number {
  if (asked?.kind === "face") return faceContactDiameterMm(drawing) / 2;
  if (asked?.kind === "width") return (drawing.nominalBoreMm + drawing.faceOutsideDiameterMm) / 4;
  return drawing.nominalBoreMm / 2;
}

/**
 * Section and clock of a shell on one sheet, at one scale. In a row both share the axis, in first-angle projection: the view
 * from the drive side stands right of the section, the view from the non-drive side left of it.
 */
export function layoutShellSheet(input: ShellSheetInput): ShellSheet {
  const { drawing, arrangement, widthPx, side, asked } = input;
  const outside = Math.max(drawing.shellOutsideDiameterMm, drawing.faceOutsideDiameterMm);
  const row = arrangement === "row";
  const room = row ? widthPx - 2 * SECTION_MARGIN - BETWEEN - 2 * CLOCK_MARGIN : widthPx - 2 * SECTION_MARGIN;
  const pxPerMm = Math.min(room / (row ? drawing.widthMm + outside : drawing.widthMm), TALLEST_BODY / outside);
  const clockWidth = outside * pxPerMm + 2 * CLOCK_MARGIN;
  const sectionWidth = drawing.widthMm * pxPerMm;
  const spare = row ? (widthPx - sectionWidth - clockWidth - 2 * SECTION_MARGIN - BETWEEN) / 3 : 0;
  const clockFirst = row && side === "nds";
  const x0 = row
    ? SECTION_MARGIN + spare + (clockFirst ? clockWidth + BETWEEN + spare : 0)
    : (widthPx - sectionWidth) / 2;
  const section = layoutShellSection({ ...input, pxPerMm, x0 });
  const outerRadius = (outside / 2) * pxPerMm;
  const boreRadius = (drawing.nominalBoreMm / 2) * pxPerMm;
  const numeralRadius = outerRadius + 27;
  const cx = row
    ? clockFirst
      ? spare + clockWidth / 2
      : section.x1 + SECTION_MARGIN + spare + BETWEEN / 2 + clockWidth / 2
    : widthPx / 2;
  const cy = row ? section.axisY : section.height + numeralRadius + 22;
  const face: ClockFace = { cx, cy, side };
  const layout = layoutClock(
    face,
    { radius: markRadiusMm(drawing, asked) * pxPerMm, plateRadius: numeralRadius },
    input.marks,
  );
  const captionY = cy + outerRadius + CAPTION_DROP;
  return {
    width: widthPx,
    height: Math.max(section.height, captionY + 14),
    pxPerMm,
    section,
    clock: {
      ...layout,
      face,
      outerRadius,
      boreRadius,
      numeralRadius,
      caption: { x: cx, y: captionY, text: clockCaption(askedSeatOf(asked), side) },
    },
  };
}
