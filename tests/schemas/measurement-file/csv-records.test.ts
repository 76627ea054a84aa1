import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { createRecordReader, type Separator, UnreadableFileError } from "@/lib/schemas/measurement-file/csv-records";
import { csvRow, unguardedText } from "@/lib/schemas/csv-row";
import { growth } from "../../helpers/machine-time";

type Row = { cells: string[]; row: number; rule: string | null };

function records(text: string, separator: Separator = ",", piece = text.length || 1): Row[] {
  const rows: Row[] = [];
  const reader = createRecordReader(separator, (cells, row, fault) =>
    rows.push({ cells, row, rule: fault?.rule ?? null }),
  );
  for (let at = 0; at < text.length; at += piece) reader.push(text.slice(at, at + piece));
  reader.end();
  return rows;
}

const cellsOf = (text: string, separator: Separator = ",") => records(text, separator).map(({ cells }) => cells);

/** Texts of the signs that matter to spreadsheets and to whoever splits a line. */
const formulaLike = fc.string({ unit: fc.constantFrom(..."=+-@\uff1d'\" ,;|\t\r\nab1") });

describe("createRecordReader (RFC 4180, section 2)", () => {
  it("splits records at CR LF, with or without a last line break", () => {
    expect(cellsOf("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n")).toEqual([
      ["aaa", "bbb", "ccc"],
      ["zzz", "yyy", "xxx"],
    ]);
    expect(cellsOf("aaa,bbb,ccc\r\nzzz,yyy,xxx")).toEqual([
      ["aaa", "bbb", "ccc"],
      ["zzz", "yyy", "xxx"],
    ]);
  });

  it("takes LF and CR as line breaks too", () => {
    expect(cellsOf("a,b\nc,d\n")).toEqual([
      ["a", "b"],
      ["c", "d"],
    ]);
    expect(cellsOf("a,b\rc,d\r")).toEqual([
      ["a", "b"],
      ["c", "d"],
    ]);
  });

  it("keeps separators, quotes and line breaks inside quotes", () => {
    expect(cellsOf('"aaa","b\r\nbb","c,cc"\r\nzzz,"y""y",xxx')).toEqual([
      ["aaa", "b\r\nbb", "c,cc"],
      ["zzz", 'y"y', "xxx"],
    ]);
  });

  it("counts rows as a spreadsheet does: a quoted line break makes no row, an empty line does", () => {
    expect(records('h\n"a\nb"\n\nc\n').map(({ row, cells }) => [row, cells[0]])).toEqual([
      [1, "h"],
      [2, "a\nb"],
      [3, ""],
      [4, "c"],
    ]);
  });

  it("reports a quote inside a plain cell and text after a closing quote, and goes on with the next row", () => {
    const rows = records('a"b,c\nd,"e"f\ng,h\n');
    expect(rows.map(({ rule }) => rule !== null)).toEqual([true, true, false]);
    expect(rows[2]?.cells).toEqual(["g", "h"]);
  });

  it("refuses a quote that is never closed, with the row in which it opens", () => {
    expect(() => records('a,b\nc,"d\ne,f\n')).toThrow(UnreadableFileError);
    try {
      records('a,b\nc,"d\ne,f\n');
    } catch (error) {
      expect(error).toMatchObject({ row: 2 });
    }
    expect(() => records(`a\n"${"x".repeat(40_000)}"\n`)).toThrow(UnreadableFileError);
  });

  it("gives the same records however the text is cut into pieces", () => {
    const cell = fc.string({ unit: fc.constantFrom("a", '"', ",", "\n", "\r", ";", "é", " ", "=", "'") });
    fc.assert(
      fc.property(
        fc.array(fc.array(cell, { minLength: 2, maxLength: 4 }), { minLength: 1, maxLength: 5 }),
        fc.integer({ min: 1, max: 7 }),
        (rows, piece) => {
          const text = rows.map((row) => `${csvRow(row)}\r\n`).join("");
          expect(records(text, ",", piece)).toEqual(records(text));
        },
      ),
      { seed: 41, numRuns: 300 },
    );
  });

  it("reads back what csvRow writes, whatever the cells hold", () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.string({ unit: "grapheme" }), formulaLike), { minLength: 2, maxLength: 5 }),
        fc.constantFrom<Separator>(",", ";", "\t"),
        (row, separator) => {
          const [read] = cellsOf(`${csvRow(row, separator)}\r\n`, separator);
          expect(read?.map(unguardedText)).toEqual(row);
        },
      ),
      { seed: 41, numRuns: 500 },
    );
  });
});

describe("csvRow", () => {
  it.each([
    ["\t=1", "'\t'=1"],
    ["\r=1", "'\r'=1"],
    ["\tx", "'\tx"],
    ["x;=1+1", "x;'=1+1"],
    ['x,"=1+1"', 'x,\'"=1+1"'],
    ["x\n@SUM(A1)", "x\n'@SUM(A1)"],
    ["a\t\uff1d1", "a\t'\uff1d1"],
    ["a; =1;-2x", "a;' =1;'-2x"],
    ["'=1", "''=1"],
  ])("lets no formula start in %j where another program would cut it", (text, guarded) => {
    const [written] = cellsOf(csvRow([text, "b"]));
    expect(written?.[0]).toBe(guarded);
    expect(unguardedText(guarded)).toBe(text);
  });

  it("starts no formula, whatever a program takes for a separator and whether it knows quotes", () => {
    fc.assert(
      fc.property(fc.array(formulaLike, { minLength: 1, maxLength: 4 }), (row) => {
        for (const cell of csvRow(row).split(/[,;|\t\r\n]/)) {
          const text = cell
            .replace(/^["\s]+/, "")
            .replace(/"+$/, "")
            .trim();
          if (/^[=+\-@\uff1d]/.test(text)) expect(text).toMatch(/^[+-]?\d+$/);
        }
      }),
      { seed: 41, numRuns: 2000 },
    );
  });

  it("takes time in proportion to the text", () => {
    const written = (count: number) => csvRow([`${'"'.repeat(count)}${"' ".repeat(count)}`]);
    // Linear gives about 1, quadratic 20.
    expect(
      growth(
        20,
        () => written(20_000),
        () => written(400_000),
      ),
    ).toBeLessThan(5);
  });

  it.each([
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "  =1",
    "\uff1dcmd",
    "\uff0b1",
    "\uff0d1x",
    "\uff20a",
    "-12µm",
    '=HYPERLINK("x")',
  ])("never lets the text %j start a formula", (text) => {
    const [written] = cellsOf(csvRow([text, "b"]));
    expect(written?.[0]).toBe(`'${text}`);
  });

  it.each(["-3.5", "+0.5", "-3,5", "-1e-7", "2.5E+3", "41.975", "x, -5", "a;+3.5;b", "C41-04001", "a=b", "12-6"])(
    "leaves %j as it is",
    (text) => {
      const [written] = cellsOf(csvRow([text, "b"]));
      expect(written?.[0]).toBe(text);
    },
  );
});
