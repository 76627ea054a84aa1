import "server-only";
import type PDFDocument from "pdfkit";
import type { Canvas } from "@/lib/charts/chart-pen";
import type { Letters } from "./letters";

type Document = InstanceType<typeof PDFDocument>;
type Look = Pick<Canvas, "fillStyle" | "strokeStyle" | "lineWidth" | "lineJoin" | "globalAlpha" | "font" | "textAlign">;
type Step = (document: Document) => void;

const STRONG_FROM = 600;

/** A canvas whose strokes go on the page of a document, where the document's origin is now. */
export class PdfCanvas implements Canvas {
  private dash: readonly number[] = [];
  private readonly saved: { readonly look: Look; readonly dash: readonly number[] }[] = [];
  private path: Step[] = [];
  fillStyle: Canvas["fillStyle"] = "#000";
  strokeStyle: Canvas["strokeStyle"] = "#000";
  lineWidth = 1;
  lineJoin: CanvasLineJoin = "miter";
  globalAlpha = 1;
  font = "400 14px plain";
  textAlign: CanvasTextAlign = "left";
  textBaseline: CanvasTextBaseline = "alphabetic";

  constructor(
    private readonly document: Document,
    private readonly letters: Letters,
  ) {}

  save(): void {
    const { fillStyle, strokeStyle, lineWidth, lineJoin, globalAlpha, font, textAlign } = this;
    this.saved.push({
      look: { fillStyle, strokeStyle, lineWidth, lineJoin, globalAlpha, font, textAlign },
      dash: this.dash,
    });
    this.document.save();
  }
  restore(): void {
    const last = this.saved.pop();
    if (last === undefined) return;
    Object.assign(this, last.look);
    this.dash = last.dash;
    this.document.restore();
  }
  beginPath(): void {
    this.path = [];
  }
  closePath(): void {
    this.path.push((document) => document.closePath());
  }
  moveTo(x: number, y: number): void {
    this.path.push((document) => document.moveTo(x, y));
  }
  lineTo(x: number, y: number): void {
    const isFirst = this.path.length === 0;
    this.path.push((document) => (isFirst ? document.moveTo(x, y) : document.lineTo(x, y)));
  }
  rect(x: number, y: number, width: number, height: number): void {
    this.path.push((document) => document.rect(x, y, width, height));
  }
  /** Whole circles only: no chart has another arc. */
  arc(x: number, y: number, radius: number): void {
    this.path.push((document) => document.circle(x, y, radius));
  }
  setLineDash(dash: number[]): void {
    this.dash = dash;
  }
  clip(): void {
    this.trace();
    this.document.clip();
  }
  fill(): void {
    this.trace();
    this.document.fillOpacity(this.globalAlpha).fill(String(this.fillStyle));
  }
  stroke(): void {
    if (this.path.length === 0) return;
    this.trace();
    this.document.lineWidth(this.lineWidth).lineJoin(this.lineJoin).strokeOpacity(this.globalAlpha);
    if (this.dash.length === 0) this.document.undash();
    else this.document.dash(this.dash[0] ?? 1, { space: this.dash[1] ?? this.dash[0] ?? 1 });
    this.document.stroke(String(this.strokeStyle));
  }
  fillRect(x: number, y: number, width: number, height: number): void {
    this.document.rect(x, y, width, height).fillOpacity(this.globalAlpha).fill(String(this.fillStyle));
  }
  fillText(text: string, x: number, y: number): void {
    const { face, size } = this.face();
    const width = this.textAlign === "left" ? 0 : this.letters.widthOf(text, face, size);
    const left = this.textAlign === "right" ? x - width : this.textAlign === "center" ? x - width / 2 : x;
    this.document.fillOpacity(this.globalAlpha);
    this.letters.write(text, left, y, face, size, String(this.fillStyle));
  }
  /** A halo is a screen's: on paper it would hide the hairlines under it, and the text would be there twice. */
  strokeText(): void {}
  measureText(text: string): { readonly width: number } {
    const { face, size } = this.face();
    return { width: this.letters.widthOf(text, face, size) };
  }

  private face(): { readonly face: "plain" | "strong"; readonly size: number } {
    const [, weight = "400", size = "14"] = /^(\d+) ([\d.]+)px/.exec(this.font) ?? [];
    return { face: Number(weight) >= STRONG_FROM ? "strong" : "plain", size: Number(size) };
  }
  private trace(): void {
    for (const step of this.path) step(this.document);
  }
}
