import { labelWidth } from "./label-box";
import type { Canvas } from "./chart-pen";

const ESCAPES: Readonly<Record<string, string>> = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };
/** Control characters cannot be in an XML document at all. */
const escaped = (text: string): string =>
  text
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, "")
    .replace(/[&<>"]/g, (one) => ESCAPES[one] ?? one);

/** Hundredths of a pixel are finer than any screen or printer. */
const told = (value: number): string => String(Math.round(value * 100) / 100);

type Look = {
  fillStyle: Canvas["fillStyle"];
  strokeStyle: Canvas["strokeStyle"];
  lineWidth: number;
  lineJoin: CanvasLineJoin;
  globalAlpha: number;
  font: string;
  textAlign: CanvasTextAlign;
  dash: readonly number[];
  clip: string | null;
};

const ANCHORS: Partial<Record<CanvasTextAlign, string>> = { center: "middle", right: "end", end: "end" };

/** "640 18px sans" as weight, size and family. */
function readFont(font: string): { readonly weight: string; readonly size: number; readonly family: string } {
  const [, weight = "400", size = "14", family = "sans-serif"] = /^(\d+) ([\d.]+)px (.*)$/.exec(font) ?? [];
  return { weight, size: Number(size), family };
}

/** A canvas whose strokes become an SVG picture (SVG 1.1). */
export class SvgCanvas implements Canvas {
  private look: Look = {
    fillStyle: "#000",
    strokeStyle: "#000",
    lineWidth: 1,
    lineJoin: "miter",
    globalAlpha: 1,
    font: "400 14px sans-serif",
    textAlign: "left",
    dash: [],
    clip: null,
  };
  private readonly saved: Look[] = [];
  private path: string[] = [];
  private readonly parts: string[] = [];
  private clips = 0;
  textBaseline: CanvasTextBaseline = "alphabetic";

  get fillStyle(): Canvas["fillStyle"] {
    return this.look.fillStyle;
  }
  set fillStyle(value) {
    this.look.fillStyle = value;
  }
  get strokeStyle(): Canvas["strokeStyle"] {
    return this.look.strokeStyle;
  }
  set strokeStyle(value) {
    this.look.strokeStyle = value;
  }
  get lineWidth(): number {
    return this.look.lineWidth;
  }
  set lineWidth(value) {
    this.look.lineWidth = value;
  }
  get lineJoin(): CanvasLineJoin {
    return this.look.lineJoin;
  }
  set lineJoin(value) {
    this.look.lineJoin = value;
  }
  get globalAlpha(): number {
    return this.look.globalAlpha;
  }
  set globalAlpha(value) {
    this.look.globalAlpha = value;
  }
  get font(): string {
    return this.look.font;
  }
  set font(value) {
    this.look.font = value;
  }
  get textAlign(): CanvasTextAlign {
    return this.look.textAlign;
  }
  set textAlign(value) {
    this.look.textAlign = value;
  }

  save(): void {
    this.saved.push({ ...this.look });
  }
  restore(): void {
    this.look = this.saved.pop() ?? this.look;
  }
  beginPath(): void {
    this.path = [];
  }
  closePath(): void {
    this.path.push("Z");
  }
  moveTo(x: number, y: number): void {
    this.path.push(`M${told(x)} ${told(y)}`);
  }
  lineTo(x: number, y: number): void {
    this.path.push(`${this.path.length === 0 ? "M" : "L"}${told(x)} ${told(y)}`);
  }
  rect(x: number, y: number, width: number, height: number): void {
    this.path.push(`M${told(x)} ${told(y)}h${told(width)}v${told(height)}h${told(-width)}Z`);
  }
  /** Whole circles only: no chart has another arc. */
  arc(x: number, y: number, radius: number): void {
    const r = told(radius);
    this.path.push(
      `M${told(x - radius)} ${told(y)}a${r} ${r} 0 1 0 ${told(2 * radius)} 0a${r} ${r} 0 1 0 ${told(-2 * radius)} 0`,
    );
  }
  setLineDash(dash: number[]): void {
    this.look.dash = dash;
  }
  clip(): void {
    this.clips += 1;
    const outer = this.look.clip === null ? "" : ` clip-path="url(#${this.look.clip})"`;
    this.look.clip = `clip${this.clips}`;
    this.parts.push(`<clipPath id="${this.look.clip}"${outer}><path d="${this.path.join("")}"/></clipPath>`);
  }
  fill(): void {
    this.add(`<path d="${this.path.join("")}" fill="${String(this.look.fillStyle)}"`);
  }
  stroke(): void {
    this.add(`<path d="${this.path.join("")}" fill="none"${this.stroked()}`);
  }
  fillRect(x: number, y: number, width: number, height: number): void {
    this.add(
      `<rect x="${told(x)}" y="${told(y)}" width="${told(width)}" height="${told(height)}" fill="${String(this.look.fillStyle)}"`,
    );
  }
  fillText(text: string, x: number, y: number): void {
    this.write(text, x, y, ` fill="${String(this.look.fillStyle)}"`);
  }
  strokeText(text: string, x: number, y: number): void {
    this.write(text, x, y, ` fill="none"${this.stroked()}`);
  }
  measureText(text: string): { readonly width: number } {
    return { width: labelWidth(text, readFont(this.look.font).size) };
  }

  /** The picture as a document of its own; its title is read aloud. */
  toSvg(size: { readonly width: number; readonly height: number }, title: string): string {
    const { width, height } = size;
    return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img"><title>${escaped(title)}</title>${this.parts.join("")}</svg>\n`;
  }

  private stroked(): string {
    const { strokeStyle, lineWidth, lineJoin, dash } = this.look;
    const dashed = dash.length === 0 ? "" : ` stroke-dasharray="${dash.join(" ")}"`;
    return ` stroke="${String(strokeStyle)}" stroke-width="${told(lineWidth)}" stroke-linejoin="${lineJoin}"${dashed}`;
  }
  private add(open: string, content = ""): void {
    const { globalAlpha, clip } = this.look;
    const opacity = globalAlpha === 1 ? "" : ` opacity="${told(globalAlpha)}"`;
    const clipped = clip === null ? "" : ` clip-path="url(#${clip})"`;
    const isText = open.startsWith("<text");
    this.parts.push(`${open}${opacity}${clipped}${isText ? `>${content}</text>` : "/>"}`);
  }
  private write(text: string, x: number, y: number, paint: string): void {
    if (text === "") return;
    const { weight, size, family } = readFont(this.look.font);
    const anchor = ANCHORS[this.look.textAlign];
    this.add(
      `<text x="${told(x)}" y="${told(y)}" font-family="${escaped(family)}" font-size="${told(size)}" font-weight="${weight}"${anchor === undefined ? "" : ` text-anchor="${anchor}"`}${paint}`,
      escaped(text),
    );
  }
}
