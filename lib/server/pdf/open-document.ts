import "server-only";
import PDFDocument from "pdfkit";
import { type ChartPicture, drawChartPicture } from "@/lib/charts/chart-picture";
import type { Face } from "./faces";
import { Letters } from "./letters";
import { PdfCanvas } from "./pdf-canvas";

/** A4, and the white round what is written, points (1 mm is 2.8346). */
const PAGE = { width: 595.28, height: 841.89 };
const MARGIN = { left: 51, right: 40, top: 62, bottom: 57 };
const WIDTH = PAGE.width - MARGIN.left - MARGIN.right;
const INK = "#16212b";
const QUIET = "#46535e";
const HAIR = "#c9cdd0";
const SIZES = { title: 20, section: 13, text: 10, small: 8.5 };
/** Base line to base line, as a multiple of the size. */
const LEADING = 1.35;
const ASCENT = 0.95;
const CELL = { side: 4, above: 1.5, below: 2 };
/** A chart is drawn at the size it has on a screen, so that its words keep their proportions. */
const CHART_WIDTH = 900;

export type PaperColumn = {
  readonly label: string;
  /** Share of the width beside the other columns. */
  readonly share: number;
  readonly face?: Face;
  readonly align?: "left" | "right";
};

export type OpenPaper = {
  readonly section: (text: string) => void;
  readonly paragraph: (text: string) => void;
  /** Names and values, one pair a line. */
  readonly pairs: (pairs: readonly (readonly [name: string, value: string])[]) => void;
  /** A table over as many pages as it takes, its head on each. */
  readonly table: (caption: string, columns: readonly PaperColumn[], rows: readonly (readonly string[])[]) => void;
  /** A chart over the whole width. `alternative` says in words what it shows. */
  readonly chart: (picture: Omit<ChartPicture, "stamp">, alternative: string, heightShare?: number) => void;
  /** Numbers the pages and gives the file. Nothing can be added then. */
  readonly close: () => Promise<Buffer>;
};

export type PaperHead = {
  readonly title: string;
  /** What it is about, under the title. */
  readonly lead: string;
  /** At the foot of each page: from where and when it is. */
  readonly stamp: string;
  readonly madeAt: Date;
  /** Words "page 1 of 3". */
  readonly pageOf: (page: number, pages: number) => string;
};

/**
 * Opens a document, the one way in which a PDF is made here: A4, tagged (PDF 1.7, ISO 32000-1, 14.8), text that can be copied,
 * letters of Latin, Greek and Cyrillic.
 */
export function openPaper({ title, lead, stamp, madeAt, pageOf }: PaperHead): OpenPaper {
  const document = new PDFDocument({
    size: "A4",
    margin: 0,
    autoFirstPage: false,
    bufferPages: true,
    pdfVersion: "1.7",
    tagged: true,
    displayTitle: true,
    lang: "en",
    info: {
      Title: title,
      Subject: lead,
      Creator: "Shellgate",
      Producer: "Shellgate",
      CreationDate: madeAt,
      ModDate: madeAt,
    },
  });
  const chunks: Buffer[] = [];
  document.on("data", (chunk: Buffer) => chunks.push(chunk));
  const ended = new Promise<Buffer>((resolve, reject) => {
    document.on("end", () => resolve(Buffer.concat(chunks)));
    document.on("error", reject);
  });
  const letters = new Letters(document);
  const root = document.struct("Document");
  document.addStructure(root);
  let y = 0;

  const turn = (): void => {
    document.addPage();
    y = MARGIN.top;
  };
  const bottom = PAGE.height - MARGIN.bottom;
  const makeRoom = (height: number): void => {
    if (y + height > bottom) turn();
  };
  /** Draws as an element of the structure: what reads the page aloud finds it by its kind. */
  const tagged = (kind: string, draw: () => void, options: Record<string, unknown> = {}): void => {
    root.add(document.struct(kind, options, draw));
  };
  const decorate = (draw: () => void): void => {
    document.markContent("Artifact", { type: "Layout" });
    draw();
    document.endMarkedContent();
  };
  const lines = (kind: string, text: string, face: Face, size: number, colour: string): void => {
    const wrapped = letters.linesOf(text, face, size, WIDTH);
    makeRoom(Math.min(wrapped.length, 3) * size * LEADING);
    let rest = [...wrapped];
    while (rest.length > 0) {
      const fitting = Math.max(1, Math.floor((bottom - y) / (size * LEADING)));
      const now = rest.slice(0, fitting);
      rest = rest.slice(fitting);
      tagged(kind, () => {
        for (const line of now) {
          letters.write(line, MARGIN.left, y + size * ASCENT, face, size, colour);
          y += size * LEADING;
        }
      });
      if (rest.length > 0) turn();
    }
  };

  turn();
  lines("H1", title, "strong", SIZES.title, INK);
  if (lead !== "") lines("P", lead, "plain", SIZES.text, QUIET);
  y += 8;

  const section = (text: string): void => {
    y += 10;
    makeRoom(SIZES.section * LEADING + 40);
    lines("H2", text, "strong", SIZES.section, INK);
    decorate(() =>
      document
        .moveTo(MARGIN.left, y)
        .lineTo(MARGIN.left + WIDTH, y)
        .lineWidth(0.8)
        .stroke(INK),
    );
    y += 6;
  };

  const paragraph = (text: string): void => {
    lines("P", text, "plain", SIZES.text, INK);
    y += 4;
  };

  type Cell = {
    readonly lines: readonly string[];
    readonly column: PaperColumn;
    readonly left: number;
    readonly width: number;
  };
  const cellsOf = (columns: readonly PaperColumn[], values: readonly string[], face?: Face): readonly Cell[] => {
    const total = columns.reduce((sum, { share }) => sum + share, 0);
    let left = MARGIN.left;
    return columns.map((column, index) => {
      const width = (column.share / total) * WIDTH;
      const cell = {
        lines: letters.linesOf(values[index] ?? "", face ?? column.face ?? "plain", SIZES.small, width - 2 * CELL.side),
        column,
        left,
        width,
      };
      left += width;
      return cell;
    });
  };
  const heightOf = (cells: readonly Cell[]): number =>
    Math.max(1, ...cells.map((cell) => cell.lines.length)) * SIZES.small * LEADING + CELL.above + CELL.below;
  const writeCell = ({ lines: written, column, left, width }: Cell, face: Face, colour: string): void => {
    written.forEach((line, index) => {
      const right = column.align === "right" ? width - 2 * CELL.side - letters.widthOf(line, face, SIZES.small) : 0;
      const at = y + CELL.above + (index * LEADING + ASCENT) * SIZES.small;
      letters.write(line, left + CELL.side + right, at, face, SIZES.small, colour);
    });
  };

  const table: OpenPaper["table"] = (caption, columns, rows) => {
    const head = cellsOf(
      columns,
      columns.map(({ label }) => label),
      "strong",
    );
    const part = (remaining: readonly (readonly Cell[])[]): readonly (readonly Cell[])[] => {
      const element = document.struct("Table", { title: caption });
      root.add(element);
      const addRow = (cells: readonly Cell[], isHead: boolean): void => {
        const row = document.struct("TR");
        element.add(row);
        for (const cell of cells) {
          const face = isHead ? "strong" : (cell.column.face ?? "plain");
          row.add(document.struct(isHead ? "TH" : "TD", {}, () => writeCell(cell, face, isHead ? QUIET : INK)));
        }
        row.end();
        y += heightOf(cells);
        decorate(() =>
          document
            .moveTo(MARGIN.left, y)
            .lineTo(MARGIN.left + WIDTH, y)
            .lineWidth(isHead ? 0.8 : 0.4)
            .stroke(isHead ? INK : HAIR),
        );
      };
      addRow(head, true);
      let shown = 0;
      for (const row of remaining) {
        if (shown > 0 && y + heightOf(row) > bottom) break;
        addRow(row, false);
        shown += 1;
      }
      element.end();
      return remaining.slice(shown);
    };
    // A row that is longer than a page goes on as another row.
    const mostLines = Math.floor(
      (bottom - MARGIN.top - heightOf(head) - CELL.above - CELL.below) / (SIZES.small * LEADING),
    );
    const inParts = (cells: readonly Cell[]): readonly (readonly Cell[])[] => {
      const longest = Math.max(1, ...cells.map((cell) => cell.lines.length));
      return Array.from({ length: Math.ceil(longest / mostLines) }, (_, index) =>
        cells.map((cell) => ({ ...cell, lines: cell.lines.slice(index * mostLines, (index + 1) * mostLines) })),
      );
    };
    let rest: readonly (readonly Cell[])[] = rows.flatMap((row) => inParts(cellsOf(columns, row)));
    makeRoom(heightOf(head) + heightOf(rest[0] ?? []));
    do {
      rest = part(rest);
      if (rest.length > 0) turn();
    } while (rest.length > 0);
    y += 6;
  };

  const pairs: OpenPaper["pairs"] = (listed) => {
    const columns: readonly PaperColumn[] = [
      { label: "", share: 1 },
      { label: "", share: 2.4 },
    ];
    for (const [name, value] of listed) {
      const cells = cellsOf(columns, [name, value]);
      makeRoom(heightOf(cells));
      tagged("P", () => {
        const [left, right] = cells;
        if (left) writeCell(left, "plain", QUIET);
        if (right) writeCell(right, "plain", INK);
      });
      y += heightOf(cells) - CELL.above;
    }
    y += 6;
  };

  const chart: OpenPaper["chart"] = (picture, alternative, heightShare = 0.46) => {
    const scale = WIDTH / CHART_WIDTH;
    const height = CHART_WIDTH * heightShare;
    makeRoom(height * scale);
    tagged(
      "Figure",
      () => {
        document.save().translate(MARGIN.left, y).scale(scale);
        drawChartPicture(new PdfCanvas(document, letters), { ...picture, stamp: "" }, { width: CHART_WIDTH, height });
        document.restore();
      },
      { alt: alternative },
    );
    y += height * scale + 8;
  };

  const close = (): Promise<Buffer> => {
    root.end();
    const { count } = document.bufferedPageRange();
    for (let page = 0; page < count; page += 1) {
      document.switchToPage(page);
      document.markContent("Artifact", { type: "Pagination" });
      const at = PAGE.height - MARGIN.bottom + 24;
      document
        .moveTo(MARGIN.left, at - 12)
        .lineTo(MARGIN.left + WIDTH, at - 12)
        .lineWidth(0.4)
        .stroke(HAIR);
      letters.write(stamp, MARGIN.left, at, "plain", SIZES.small, QUIET);
      const told = pageOf(page + 1, count);
      const left = MARGIN.left + WIDTH - letters.widthOf(told, "plain", SIZES.small);
      letters.write(told, left, at, "plain", SIZES.small, QUIET);
      document.endMarkedContent();
    }
    document.end();
    return ended;
  };

  return { section, paragraph, pairs, table, chart, close };
}
