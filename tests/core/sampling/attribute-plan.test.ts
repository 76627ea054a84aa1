import { describe, expect, it } from "vitest";
import reference from "../../reference/sampling-attributes.json";
import { attributePlan } from "@/lib/core/sampling/attribute-plan";
import {
  CODE_LETTERS,
  codeLetter,
  INSPECTION_LEVELS,
  planAlong,
  PREFERRED_AQLS,
  SEVERITIES,
  tableCell,
} from "@/lib/core/sampling/attribute-tables";

const written = (cell: ReturnType<typeof tableCell>) => (typeof cell === "string" ? cell : `${cell.ac}/${cell.re}`);

describe("the tables of single sampling by attributes", () => {
  it.each([
    ["normal", []],
    ["tightened", ["tightened R 0.015"]],
    ["reduced", ["reduced Q 0.025"]],
  ] as const)("hold every cell that is known of %s inspection", (severity, expected) => {
    let known = 0;
    const turned: string[] = [];
    for (const [letter, row] of Object.entries(reference[severity]))
      row.cells.split(" ").forEach((cell, column) => {
        if (cell === "?" || cell === "-") return;
        known += 1;
        const row = CODE_LETTERS.indexOf(letter);
        const ours = written(tableCell(severity, row, column));
        // The collection leaves an arrow that leads out of the table; followed, it has to lead somewhere.
        const leadsOut = cell !== ours && (cell === "up" || cell === "down");
        if (leadsOut) expect(planAlong(severity, row, column, cell)).toBeNull();
        const place = `${severity} ${letter} ${PREFERRED_AQLS[column]}`;
        if (leadsOut) turned.push(place);
        else expect(`${place} ${ours}`).toBe(`${place} ${cell}`);
      });
    expect(known).toBeGreaterThan(370);
    expect(turned).toEqual(expected);
  });

  it.each(SEVERITIES)("agree with another party's columns of %s inspection", (severity) => {
    for (const [aql, column] of Object.entries(reference.handTranscription[severity]))
      column.split(" ").forEach((cell, row) => {
        if (severity === "tightened" && aql === "10" && row === 0) return;
        const at = PREFERRED_AQLS.findIndex((preferred) => preferred === Number(aql));
        const ours = tableCell(severity, row, at);
        const theirs = cell === "v" ? "down" : cell === "^" ? "up" : Number(cell);
        expect([aql, row, typeof ours === "string" ? ours : ours.ac]).toEqual([aql, row, theirs]);
      });
  });

  it("give the code letter of every level at both ends of every row", () => {
    for (const [least, most, letters] of reference.codeLetters as [number, number | null, string][])
      for (const lot of [least, most ?? 10_000_000])
        expect(INSPECTION_LEVELS.map((level) => codeLetter(lot, level)).join("")).toBe(letters);
  });

  // Laid down by the scheme itself: normal inspection is between the other two. ISO 2859-1:1999 clause 9.
  it("never accept more when tightened than when normal", () => {
    for (const lot of [8, 50, 150, 1000, 5000, 40_000])
      for (const aql of PREFERRED_AQLS) {
        const [normal, tightened] = (["normal", "tightened"] as const).map((severity) =>
          attributePlan({ lot, level: "II", aql, severity }),
        );
        expect(tightened!.ac / tightened!.tableN).toBeLessThanOrEqual(normal!.ac / normal!.tableN);
      }
  });
});

describe("attributePlan", () => {
  // By the rows above; 41 and 1200 at AQL 4 are also worked examples of the transcription's author.
  it.each([
    [1000, "II", 1, "normal", "J", 80, 2],
    [41, "II", 4, "normal", "D", 13, 1],
    [1200, "II", 4, "normal", "J", 80, 7],
    [600_000, "III", 10, "normal", "R", 125, 21],
    [500, "II", 1, "tightened", "H", 80, 1],
    [3000, "II", 4, "reduced", "K", 50, 6],
    [41, "II", 10, "reduced", "D", 3, 1],
    [700_000, "III", 0.025, "tightened", "R", 3150, 1],
  ] as const)("of %i at level %s and AQL %d, %s", (lot, level, aql, severity, code, n, ac) => {
    expect(attributePlan({ lot, level, aql, severity })).toMatchObject({ code, n, ac, re: ac + 1 });
  });

  it("follows an arrow with the sample of the plan it leads to, and inspects whole lots that are no larger", () => {
    const plan = attributePlan({ lot: 4, level: "II", aql: 10, severity: "normal" });
    expect(plan).toEqual({ code: "A", usedCode: "C", n: 4, tableN: 5, ac: 1, re: 2 });
  });

  it("refuses a lot of one, part of an item and an AQL that is none of the preferred ones", () => {
    const scheme = { lot: 100, level: "II", aql: 1, severity: "normal" } as const;
    for (const lot of [1, 0, -5, 2.5, Number.NaN, Infinity])
      expect(() => attributePlan({ ...scheme, lot })).toThrow("lot must be a whole number of at least 2");
    for (const aql of [0, 3, -1, Number.NaN, 2000])
      expect(() => attributePlan({ ...scheme, aql })).toThrow("aql must be a preferred one");
    expect(() => tableCell("normal", 17, 0)).toThrow("must be in the table");
  });
});
