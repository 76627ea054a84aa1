import { describe, expect, it } from "vitest";
import { EMPTY_SPEC } from "@/lib/charts/chart-spec";
import { openPaper, type OpenPaper } from "@/lib/server/pdf/open-document";
import { textOfPdf } from "../../helpers/read-pdf";

const open = (title = "A paper"): OpenPaper =>
  openPaper({
    title,
    lead: "What it is about",
    stamp: "plant, now",
    madeAt: new Date("2026-11-30T12:00:00Z"),
    pageOf: (page, pages) => `page ${page} of ${pages}`,
  });
const structureOf = (file: Buffer) => [...file.toString("latin1").matchAll(/\/S \/(\w+)/g)].map(([, kind]) => kind);

describe("openPaper", () => {
  it("has letters of Latin, Greek and Cyrillic that can be copied, and says what no face has", async () => {
    const paper = open("Kovač Łódź µ ø");
    paper.paragraph("Ελλάδα Ω, Жуков, 3 \u2264 4 \u2192 ±0.5 µm, 20 °C, \u65e5");
    const [page] = textOfPdf(await paper.close());
    expect(page).toContain("Kovač Łódź µ ø");
    expect(page).toContain("Ελλάδα Ω, Жуков, 3 <= 4 to ±0.5 µm, 20 °C, \u00bf");
  });

  it("carries a table over pages with its head on each, every row once, and numbers the pages", async () => {
    const paper = open();
    const rows = Array.from({ length: 200 }, (_, index) => [`C41-${String(index).padStart(5, "0")}`, `${index} µm`]);
    paper.table(
      "Frames",
      [
        { label: "serial", share: 1, face: "code" },
        { label: "outside by", share: 1, align: "right" },
      ],
      rows,
    );
    const pages = textOfPdf(await paper.close());
    expect(pages.length).toBeGreaterThan(3);
    pages.forEach((page, index) => {
      expect(page).toContain("outside by");
      expect(page).toContain(`page ${index + 1} of ${pages.length}`);
      expect(page).toContain("plant, now");
    });
    const told = pages.join("\n").match(/C41-\d{5}/g);
    expect(told).toEqual(rows.map(([serial]) => serial));
  });

  it("is tagged: title, headings, paragraphs, table rows and figures, the figure with its words", async () => {
    const paper = open();
    paper.section("Values");
    paper.chart({ spec: EMPTY_SPEC, title: "Mean diameter, mm", finding: "steady" }, "The mean is steady.");
    paper.table("One row", [{ label: "a", share: 1 }], [["b"]]);
    const file = await paper.close();
    const kinds = structureOf(file);
    for (const kind of ["Document", "H1", "H2", "P", "Figure", "Table", "TR", "TH", "TD"])
      expect(kinds).toContain(kind);
    const raw = file.toString("latin1");
    expect(raw).toContain("/Marked true");
    expect(raw).toContain("The mean is steady.");
    expect(textOfPdf(file)[0]).toContain("Mean diameter, mm");
  });

  it("breaks what is too long, and is not left by control characters", async () => {
    const paper = open("x".repeat(400));
    paper.pairs([["name".repeat(40), "value\u0000\u0007 ".repeat(300)]]);
    paper.table("Long", [{ label: "a", share: 1 }], [["word ".repeat(3000)], ["last"]]);
    const pages = textOfPdf(await paper.close());
    expect(pages.join("").match(/x/g)?.length).toBeGreaterThanOrEqual(400);
    expect(pages.join(" ").match(/word/g)).toHaveLength(3000);
    expect(pages.join("\n")).toContain("last");
  });
});
