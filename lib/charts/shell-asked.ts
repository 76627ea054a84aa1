import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { directionWords, formatDirection } from "@/lib/format/clock-text";
import { px, type Point } from "./clock-face";
import type { Label } from "./label-box";

export type ShellDimensions = Pick<
  ShellDrawing,
  | "widthMm"
  | "nominalBoreMm"
  | "seatDepthMm"
  | "shellOutsideDiameterMm"
  | "faceOutsideDiameterMm"
  | "faceSweepDiameterMm"
>;

export type SectionPathKind =
  "wall" | "edge" | "axis" | "thin" | "to come" | "asked" | "asked thin" | "body" | "dimension" | "asked dimension";
export type SectionPath = { readonly kind: SectionPathKind; readonly d: string };
export type SectionLabelKind = "dimension" | "live" | "waiting" | "asked" | "hint" | "name" | "asked name";
export type SectionLabel = Label & { readonly kind: SectionLabelKind; readonly depthText?: string };
export type SectionDot = {
  readonly x: number;
  readonly y: number;
  readonly kind: "through" | "contact" | "contact behind";
};

/** What stands out in the section because it is asked for. */
export type AskedParts = {
  readonly paths: readonly SectionPath[];
  readonly dots: readonly SectionDot[];
  readonly labels: readonly SectionLabel[];
  /** Arrow across the bore, both ends; null where the direction runs through the sheet. */
  readonly arrow: { readonly from: Point; readonly to: Point } | null;
};

/** Where the section stands on the sheet. */
export type SectionPlace = {
  readonly drawing: ShellDimensions;
  readonly pxPerMm: number;
  readonly x0: number;
  readonly x1: number;
  readonly axisY: number;
  readonly side: Seat;
};

const HINT_SIZE = 18;

/** Diameter on which the face indicator is drawn: the drawing's, kept on the material of the face. */
export function faceContactDiameterMm(drawing: ShellDimensions): number {
  const { nominalBoreMm, faceOutsideDiameterMm, faceSweepDiameterMm } = drawing;
  const wall = faceOutsideDiameterMm - nominalBoreMm;
  return Math.min(faceOutsideDiameterMm - wall * 0.2, Math.max(nominalBoreMm + wall * 0.2, faceSweepDiameterMm));
}

/** x of a plane at a depth from the seat's own face, pixels. */
export function planeX(
  { x0, x1, pxPerMm }: Pick<SectionPlace, "x0" | "x1" | "pxPerMm">,
  seat: Seat,
  depthMm: number,
): number {
  return seat === "ds" ? x0 + depthMm * pxPerMm : x1 - depthMm * pxPerMm;
}

/** The asked reading drawn into the section. */
export function layoutAsked(place: SectionPlace, asked: ReadingName): AskedParts {
  const { drawing, pxPerMm, x0, x1, axisY, side } = place;
  const bore = (drawing.nominalBoreMm / 2) * pxPerMm;
  const hintAt = (x: number, seat: Seat, text: string): SectionLabel => ({
    kind: "hint",
    text,
    x: seat === "ds" ? x + 20 : x - 20,
    y: axisY + 26,
    anchor: seat === "ds" ? "start" : "end",
    size: HINT_SIZE,
  });
  const cosine = (angleDeg: number) => Math.cos((angleDeg * Math.PI) / 180);
  const isBehind = (angleDeg: number) => Math.sin((angleDeg * Math.PI) / 180) < -1e-9;
  switch (asked.kind) {
    case "bore": {
      const x = planeX(place, asked.seat, asked.depthMm);
      const reach = bore * Math.abs(cosine(asked.directionDeg));
      const text = formatDirection(asked.directionDeg, side);
      if (reach < 1) {
        return {
          paths: [{ kind: "asked", d: `M${px(x)} ${px(axisY - bore)}V${px(axisY + bore)}` }],
          dots: [{ x, y: axisY, kind: "through" }],
          labels: [hintAt(x, asked.seat, `${text} runs through the sheet`)],
          arrow: null,
        };
      }
      const words = directionWords(asked.directionDeg) ?? "diagonal";
      return {
        paths: [{ kind: "asked thin", d: `M${px(x)} ${px(axisY - bore)}V${px(axisY + bore)}` }],
        dots: [],
        labels: [hintAt(x, asked.seat, `${text}, ${words}`)],
        arrow: { from: { x, y: axisY - reach + 1 }, to: { x, y: axisY + reach - 1 } },
      };
    }
    case "sweep": {
      const x = planeX(place, asked.seat, asked.depthMm);
      const from = asked.seat === "nds" ? x0 - 14 : x1 + 14;
      return {
        paths: [
          { kind: "asked thin", d: `M${px(from)} ${px(axisY)}H${px(x)}` },
          { kind: "asked", d: `M${px(x)} ${px(axisY - bore)}V${px(axisY + bore)}` },
        ],
        dots: [
          {
            x,
            y: axisY - bore * cosine(asked.angleDeg),
            kind: isBehind(asked.angleDeg) ? "contact behind" : "contact",
          },
        ],
        labels: [hintAt(x, asked.seat, `turns about the ${asked.seat === "nds" ? "DS" : "NDS"} axis`)],
        arrow: null,
      };
    }
    case "face": {
      const x = asked.seat === "ds" ? x0 : x1;
      const outer = (Math.max(drawing.faceOutsideDiameterMm, drawing.nominalBoreMm) / 2) * pxPerMm;
      const reach = (faceContactDiameterMm(drawing) / 2) * pxPerMm;
      return {
        paths: [
          {
            kind: "asked",
            d: `M${px(x)} ${px(axisY - outer)}V${px(axisY - bore)}M${px(x)} ${px(axisY + bore)}V${px(axisY + outer)}`,
          },
        ],
        dots: [
          {
            x,
            y: axisY - reach * cosine(asked.angleDeg),
            kind: isBehind(asked.angleDeg) ? "contact behind" : "contact",
          },
        ],
        labels: [hintAt(x, asked.seat, "outward is plus")],
        arrow: null,
      };
    }
    case "width": {
      const reach = ((drawing.nominalBoreMm + drawing.faceOutsideDiameterMm) / 4) * pxPerMm * cosine(asked.clockDeg);
      const kind = isBehind(asked.clockDeg) ? "contact behind" : "contact";
      return {
        paths: [{ kind: "asked thin", d: `M${px(x0)} ${px(axisY - reach)}H${px(x1)}` }],
        dots: [
          { x: x0, y: axisY - reach, kind },
          { x: x1, y: axisY - reach, kind },
        ],
        labels: [],
        arrow: null,
      };
    }
    case "plug": {
      const inner = planeX(place, asked.seat, drawing.seatDepthMm);
      const outside = asked.seat === "ds" ? x0 - 22 : x1 + 22;
      return {
        paths: [
          { kind: "body", d: `M${px(outside)} ${px(axisY - bore)}H${px(inner)}V${px(axisY + bore)}H${px(outside)}Z` },
        ],
        dots: [],
        labels: [],
        arrow: null,
      };
    }
    case "bar": {
      const radius = Math.min(bore * 0.42, 30);
      return {
        paths: [
          {
            kind: "body",
            d: `M${px(x0 - 24)} ${px(axisY - radius)}H${px(x1 + 24)}V${px(axisY + radius)}H${px(x0 - 24)}Z`,
          },
        ],
        dots: [],
        labels: [],
        arrow: null,
      };
    }
  }
}
