import { SMALL_TEXT_SIZE, type ChartPalette } from "./chart-config";

/**
 * What a chart is drawn on: a browser's canvas, a vector picture or a page of a document. Names and meaning are those of the
 * canvas (HTML standard, 2D context); a font is `WEIGHT SIZEpx FAMILY`, colours are what the palette holds.
 */
export type Canvas = Pick<
  CanvasRenderingContext2D,
  | "arc"
  | "beginPath"
  | "clip"
  | "closePath"
  | "fill"
  | "fillRect"
  | "fillStyle"
  | "fillText"
  | "font"
  | "globalAlpha"
  | "lineJoin"
  | "lineTo"
  | "lineWidth"
  | "moveTo"
  | "rect"
  | "restore"
  | "save"
  | "setLineDash"
  | "stroke"
  | "strokeStyle"
  | "strokeText"
  | "textAlign"
  | "textBaseline"
> & { readonly measureText: (text: string) => { readonly width: number } };

export type Area = { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number };

/** A canvas with the places and colours of one chart. */
export type Pen = {
  readonly ctx: Canvas;
  readonly area: Area;
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
  readonly palette: ChartPalette;
  readonly width: number;
};

type TextStyle = { size?: number; weight?: number; colour: string; align?: CanvasTextAlign; halo?: boolean };

export function write(
  pen: Pen,
  text: string,
  x: number,
  y: number,
  { size = SMALL_TEXT_SIZE, weight = 400, colour, align = "left", halo = false }: TextStyle,
): void {
  const { ctx, palette } = pen;
  ctx.font = `${weight} ${size}px ${palette.fontFamily}`;
  ctx.textAlign = align;
  ctx.textBaseline = "alphabetic";
  if (halo) {
    ctx.lineJoin = "round";
    ctx.lineWidth = 5;
    ctx.strokeStyle = palette.sheet;
    ctx.setLineDash([]);
    ctx.strokeText(text, x, y);
  }
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}

export function rule(
  pen: Pen,
  points: readonly (readonly [number, number])[],
  width: number,
  colour: string,
  dash: readonly number[] = [],
): void {
  const { ctx } = pen;
  ctx.beginPath();
  points.forEach(([x, y], index) => (index === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)));
  ctx.lineWidth = width;
  ctx.strokeStyle = colour;
  ctx.setLineDash([...dash]);
  ctx.stroke();
  ctx.setLineDash([]);
}

export function hatch(pen: Pen, left: number, top: number, width: number, height: number): void {
  const { ctx, palette } = pen;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.globalAlpha = 0.42;
  ctx.strokeStyle = palette.maybe;
  ctx.lineWidth = 1.4;
  ctx.beginPath();
  for (let x = left - height; x < left + width; x += 7) {
    ctx.moveTo(x, top + height);
    ctx.lineTo(x + height, top);
  }
  ctx.stroke();
  ctx.restore();
}
