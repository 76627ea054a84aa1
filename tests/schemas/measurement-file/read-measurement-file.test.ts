import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { problemSentence } from "@/lib/schemas/measurement-file/file-problem";
import { lines, readText } from "./read-text";

// Every expectation follows from a sentence of the measurement file's description: it is the contract.

const COLUMNS =
  "serial,batch,ds.bore.2@12-6,nds.sweep.2@0,nds.sweep.2@120,nds.sweep.2@240,ds.face@90,width@12:30,ds.plug.40.95,bar.A";
const ROW = "F1,B1,40.975,-3,+4.5,1.0,12,86.5,slides,stiff@4:30";

describe("the shape of the text", () => {
  it("reads numbers, feels and passages of a row per frame", async () => {
    const { found, problems, warnings } = await readText(lines(COLUMNS, ROW));
    expect(problems).toEqual([]);
    expect(warnings).toEqual([expect.stringContaining("measured_at is missing")]);
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject({ row: 2, serial: "F1", texts: { batch: "B1" }, measuredAt: null });
    expect(found[0]?.values).toEqual([40.975, -3, 4.5, 1, 12, 86.5, "slides", { result: "stiff", clockDeg: 135 }]);
    expect(found[0]?.columns.map(({ key }) => key)).toEqual(COLUMNS.split(",").slice(2));
  });

  it("gives the same with a byte order mark, CR LF, quotes, semicolons or tabs", async () => {
    const plain = await readText(lines(COLUMNS, ROW));
    const variants = [
      `\ufeff${lines(COLUMNS, ROW)}`,
      `${COLUMNS}\r\n${ROW}`,
      lines(COLUMNS, ROW).replaceAll(",", ";"),
      lines(COLUMNS, ROW).replaceAll(",", "\t"),
      lines(COLUMNS, ROW).replaceAll(/[^,\n]+/g, (cell) => `"${cell}"`),
    ];
    for (const text of variants) {
      const { found, problems } = await readText(text);
      expect(problems).toEqual([]);
      expect(found).toEqual(plain.found);
    }
  });

  it("takes a decimal comma where the separator is not a comma", async () => {
    for (const separator of [";", "\t"]) {
      const { found, problems } = await readText(
        lines("serial;ds.bore.2@12-6", "F1;40,975").replaceAll(";", separator),
      );
      expect(problems).toEqual([]);
      expect(found[0]?.values).toEqual([40.975]);
    }
  });

  it("refuses a decimal comma in a file separated by commas and says what it is", async () => {
    const quoted = await readText(lines("serial,ds.bore.2@12-6", 'F1,"40,975"'));
    expect(quoted.problems).toEqual([expect.objectContaining({ row: 2, column: "ds.bore.2@12-6", value: "40,975" })]);
    const bare = await readText(lines("serial,ds.bore.2@12-6", "F1,40,975"));
    expect(bare.problems[0]).toMatchObject({
      row: 2,
      value: "3 cells",
      hint: expect.stringContaining("decimal comma"),
    });
  });

  it.each([
    "1,040.975",
    "1 040.975",
    "4.0975e1",
    "40.975 mm",
    "40.975mm",
    "NaN",
    "nan",
    "Infinity",
    "-",
    "n/a",
    "40.9.75",
    ".975",
    "40.",
    "4o.975",
    "0x28",
    "−40.975",
    "40..975",
    "=40.975",
    "4 0.975",
  ])("refuses %s as a number", async (text) => {
    const { problems, found } = await readText(lines("serial;ds.bore.2@12-6", `F1;"${text}"`));
    expect(problems).toEqual([expect.objectContaining({ row: 2, column: "ds.bore.2@12-6", value: text })]);
    expect(found).toEqual([]);
  });

  it.each([
    ["40.975 mm", "Units"],
    ["4.0975E1", "Exponents"],
    ["41.000.975", "Thousands"],
    ["NaN", "empty"],
    ["4O.975", "letter"],
  ])("names the likely slip in %s", async (text, hint) => {
    const { problems } = await readText(lines("serial;ds.bore.2@12-6", `F1;${text}`));
    expect(problems[0]?.hint).toContain(hint);
  });

  it("accepts signs, whole numbers and blanks around a number", async () => {
    const { found } = await readText(lines("serial,nds.sweep.2@0,nds.sweep.2@90,nds.sweep.2@180", "F1,+12, -3 ,0"));
    expect(found[0]?.values).toEqual([12, -3, 0]);
  });

  it("refuses rows with more or fewer cells than the header", async () => {
    const { problems } = await readText(lines("serial,batch,ds.bore.2@12-6", "F1,B,40.975,", "F2,B", "F3,B,40.975"));
    expect(problems.map(({ row, value }) => [row, value])).toEqual([
      [2, "4 cells"],
      [3, "2 cells"],
    ]);
  });

  it("skips empty lines but counts them", async () => {
    const { problems, rows } = await readText(lines("serial,ds.bore.2@12-6", "", "F1,40.975", "", "F2,x"));
    expect(rows).toBe(2);
    expect(problems.map(({ row }) => row)).toEqual([5]);
  });

  it("refuses an empty file, a header alone, a workbook, UTF-16 and bytes that are not UTF-8", async () => {
    const rules = async (text: string | Uint8Array) => (await readText(text)).problems.map(({ rule }) => rule).join();
    expect(await rules("")).toContain("must not be empty");
    expect(await rules("serial,ds.bore.2@12-6\n")).toContain("rows below the header");
    expect(await rules(new Uint8Array([0x50, 0x4b, 3, 4]))).toContain("workbook");
    expect(await rules(new Uint8Array([0xff, 0xfe, 0x73, 0]))).toContain("UTF-16");
    expect(
      await rules(new Uint8Array([...new TextEncoder().encode("serial,ds.bore.2@12-6\nF"), 0xe9, 0x2c, 0x34])),
    ).toContain("UTF-8");
  });

  it("gives the same however the bytes are cut, inside letters and quotes too", async () => {
    const text = lines(
      "serial;batch;nds.sweep.2@0;nds.sweep.2@90;nds.sweep.2@180",
      '"Größe;""1""";Bätch;1,5;2;x',
      "F2;B;1;2;3",
    ).replaceAll("\n", "\r\n");
    const whole = await readText(text);
    await fc.assert(
      fc.asyncProperty(fc.integer({ min: 1, max: 30 }), async (chunk) => {
        expect(await readText(text, {}, chunk)).toEqual(whole);
      }),
      { seed: 41, numRuns: 30 },
    );
  });
});

describe("the header", () => {
  const problemsOf = async (header: string) =>
    (await readText(lines(header, header.replaceAll(/[^,;]+/g, "x")))).problems.filter(({ row }) => row === 1);

  it("takes the fixed columns in any order", async () => {
    const { found, warnings } = await readText(
      lines(
        "gauge.bore,inspection,temperature_c,fixture,tool,mould,supplier,operation,line,width@3,gauge,inspector,measured_at,batch,serial,drawing",
        "BG-1,i1,20.5,FX,R1,M1,PM,after machining,C41,86.5,G,Quell,2026-06-03T08:00:00Z,B,F1,press-fit-41",
      ),
    );
    expect(warnings).toEqual([]);
    expect(found[0]).toMatchObject({
      serial: "F1",
      temperatureC: 20.5,
      measuredAt: Date.UTC(2026, 5, 3, 8),
      texts: {
        "gauge.bore": "BG-1",
        gauge: "G",
        inspection: "i1",
        fixture: "FX",
        tool: "R1",
        mould: "M1",
        supplier: "PM",
        line: "C41",
      },
    });
  });

  it("needs serial and names a column that was meant", async () => {
    expect(await problemsOf("batch,ds.bore.2@12-6")).toEqual([expect.objectContaining({ column: "serial", row: 1 })]);
    expect((await problemsOf("Serial-,ds.bore.2@12-6"))[0]?.hint).toContain("Serial-");
  });

  it("needs a reading", async () => {
    expect((await problemsOf("serial,batch"))[0]?.rule).toContain("reading column");
  });

  it("warns once of each unknown column and leaves it out", async () => {
    const { warnings, problems, found } = await readText(
      lines("serial,colour,Bat-ch,width@3,remark", "F1,red,B,86.5,x", "F2,blue,B,86.5,y"),
    );
    expect(problems).toEqual([]);
    expect(warnings.filter((text) => text.includes("not known"))).toEqual([
      expect.stringContaining('"colour"'),
      expect.stringMatching(/"Bat-ch".*batch/),
      expect.stringContaining('"remark"'),
    ]);
    expect(found[0]?.texts.batch).toBeUndefined();
  });

  it("reads names in capitals, so that no reading is lost, and says so once", async () => {
    const { warnings, problems, found } = await readText(
      lines("SERIAL,Batch,NDS.Bore.8@12-6,Width@3,DS.PLUG.40.95,BAR.Set A", "F1,B,40.975,86.5,Slides,STIFF@4:30"),
    );
    expect(problems).toEqual([]);
    expect(warnings.filter((text) => text.includes("small letters"))).toEqual([
      'Column "SERIAL" was read as serial, and 5 more columns likewise: names are written in small letters.',
    ]);
    expect(found[0]?.texts.batch).toBe("B");
    expect(found[0]?.columns.map(({ key }) => key)).toEqual([
      "nds.bore.8@12-6",
      "width@3",
      "ds.plug.40.95",
      "bar.Set A",
    ]);
    expect(found[0]?.values).toEqual([40.975, 86.5, "slides", { result: "stiff", clockDeg: 135 }]);
  });

  it("leaves out a column in capitals beside the known one", async () => {
    const { warnings, problems, found } = await readText(lines("serial,batch,Batch,width@3", "F1,B,other,86.5"));
    expect(problems).toEqual([]);
    expect(warnings.some((text) => text.includes('"Batch" is not known'))).toBe(true);
    expect(found[0]?.texts.batch).toBe("B");
  });

  it("names the row that repeats the header, once", async () => {
    const { problems } = await readText(
      lines("serial,batch,width@3", "F1,B,86.5", "serial,batch,width@3", "F2,B,86.5"),
    );
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatchObject({ row: 3, column: null, rule: expect.stringContaining("once") });
  });

  it("passes over rows without any content, whatever separators they hold", async () => {
    const { problems, found } = await readText(
      lines("serial,batch,width@3", "F1,B,86.5", ",,", " , ,", ",", "", "F2,B,86.5"),
    );
    expect(problems).toEqual([]);
    expect(found.map(({ row, serial }) => [row, serial])).toEqual([
      [2, "F1"],
      [7, "F2"],
    ]);
  });

  it("takes a quoted text with a line break as one line, but no such serial", async () => {
    const text =
      'serial,supplier,inspection,width@3\r\nF1,"Pell\ngate","measured\r\n\ttwice",86.5\r\n"F\n2",B,x,86.5\r\n';
    const { problems, found } = await readText(text);
    expect(found[0]?.texts).toMatchObject({ supplier: "Pell gate", inspection: "measured twice" });
    expect(problems).toEqual([expect.objectContaining({ row: 3, column: "serial" })]);
  });

  it.each([
    ["ds.bore.2@12-5", "six hours apart"],
    ["ds.bore.2@13-7", "clock positions"],
    ["ds.bore@12-6", "bore"],
    ["ds.bore.2@0", "clock positions"],
    ["nds.sweep.2@361", "0 to 360"],
    ["nds.sweep.2@1:30", "sweep"],
    ["ds.face@400", "face"],
    ["width@90", "clock position"],
    ["width@12:15", "clock position"],
    ["width@0", "clock position"],
    ["ds.plug.big", "plug"],
    ["NDS.Bore 8@12-6", ""],
  ])("refuses %s in the header, since a reading must not be lost", async (name, rule) => {
    const [problem, ...more] = await problemsOf(`serial,${name}`);
    expect(more.filter(({ rule: text }) => !text.includes("reading column"))).toEqual([]);
    expect(problem).toMatchObject({ row: 1, column: name, value: name });
    expect(problem?.rule).toContain(rule);
  });

  it("always uses the decimal point, in a file with decimal commas too", async () => {
    const [problem] = await problemsOf("serial;ds.bore.2,5@12-6");
    expect(problem?.hint).toContain("decimal point");
  });

  it("takes 6-12 for 12-6, any degrees, the closing reading, and sweeps of either seat", async () => {
    const { found, problems } = await readText(
      lines(
        "serial,ds.bore.2@6-12,ds.bore.2.5@7:30-1:30,ds.sweep.2@0,ds.sweep.2@33.5,ds.sweep.2@360",
        "F1,40.975,40.97,1,2,1",
      ),
    );
    expect(problems).toEqual([]);
    expect(found[0]?.columns.map(({ key }) => key)).toEqual([
      "ds.bore.2@12-6",
      "ds.bore.2.5@1:30-7:30",
      "ds.sweep.2@0",
      "ds.sweep.2@33.5",
      "ds.sweep.2@360",
    ]);
  });

  it("refuses a column twice, in another spelling too", async () => {
    expect(await problemsOf("serial,width@3,width@3")).toEqual([expect.objectContaining({ column: "width@3" })]);
    expect(await problemsOf("serial,ds.bore.2@12-6,ds.bore.2.0@6-12")).toEqual([
      expect.objectContaining({ column: "ds.bore.2.0@6-12", rule: expect.stringContaining("ds.bore.2@12-6") }),
    ]);
    expect(await problemsOf("serial,batch,batch,width@3")).toHaveLength(1);
  });
});

describe("one cell", () => {
  const problemOf = async (column: string, text: string) =>
    (await readText(lines(`serial,${column},width@3`, `F1,${text},86.5`))).problems[0];

  it.each([
    ["ds.plug.40.95", "loose", "slides, hand or no"],
    ["bar.A", "stiff", "stiff@CLOCK"],
    ["bar.A", "stiff@13", "stiff@CLOCK"],
    ["bar.A", "stiff@90", "stiff@CLOCK"],
    ["temperature_c", "293", "-20 and 60"],
    ["temperature_c", "warm", "number"],
    ["measured_at", "03.06.2026", "ISO 8601"],
  ])("refuses %s = %s", async (column, text, rule) => {
    const problem = await problemOf(column, text);
    expect(problem).toMatchObject({ row: 2, column, value: text });
    expect(problem?.rule).toContain(rule);
  });

  it("needs a serial of one line in every row", async () => {
    const { problems } = await readText(lines("serial,width@3", ",86.5", '"a\nb",86.5', `${"x".repeat(65)},86.5`));
    expect(problems.map(({ row, column }) => [row, column])).toEqual([
      [2, "serial"],
      [3, "serial"],
      [4, "serial"],
    ]);
  });

  it("takes an empty cell for a reading that was not taken", async () => {
    const { found, problems } = await readText(lines("serial,width@3,width@6,ds.plug.40.95", "F1,,86.5,"));
    expect(problems).toEqual([]);
    expect(found[0]?.values).toEqual([null, 86.5, null]);
  });

  it("says file, row, column, value and rule in a sentence", async () => {
    const { problems } = await readText(lines("serial,width@3", "F1,86.5 mm"));
    const [problem] = problems;
    expect(problem && problemSentence(problem)).toBe(
      'shift.csv, row 2, column width@3: a number must be an optional sign, digits and at most one decimal point. Got "86.5 mm". Units are not written into the cells: the column says the unit.',
    );
  });
});

describe("readings that cannot be true", () => {
  it.each([
    ["419.75", "41.975"],
    ["40975", "40.975"],
    ["409.75", "40.975"],
    ["4.0975", "40.975"],
    ["49.075", "40.975"],
    ["90.475", "40.975"],
  ])("takes a bore of %s for a slip of %s", async (text, meant) => {
    const { problems } = await readText(lines("serial,ds.bore.2@12-6", `F1,${text}`));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatchObject({ row: 2, column: "ds.bore.2@12-6", value: text });
    expect(problems[0]?.rule).toContain("1 mm");
    if (meant === "40.975") expect(problems[0]?.hint).toContain(meant);
    else expect(problems[0]?.hint).toMatch(/decimal sign/);
  });

  it("draws the line at 1 mm for a bore and at 20 tolerance widths for a width", async () => {
    const count = async (column: string, value: string) =>
      (await readText(lines(`serial,${column}`, `F1,${value}`))).problems.length;
    expect(await count("ds.bore.2@12-6", "41.999")).toBe(0);
    expect(await count("ds.bore.2@12-6", "42.001")).toBe(1);
    expect(await count("ds.bore.2@12-6", "40.001")).toBe(0);
    expect(await count("ds.bore.2@12-6", "39.999")).toBe(1);
    // 86.5 +-0.2: 20 x 0.4 = 8 mm (demonstration drawing, invented).
    expect(await count("width@3", "94.499")).toBe(0);
    expect(await count("width@3", "94.501")).toBe(1);
  });

  it("holds a sweep reading against its own sweep's median, 500 µm away", async () => {
    const header =
      "serial,nds.sweep.2@0,nds.sweep.2@90,nds.sweep.2@180,nds.sweep.2@270,nds.sweep.8@0,ds.face@0,ds.face@120,ds.face@240";
    const good = await readText(lines(header, "F1,1000,1010,1499,1000,-3000,0,10,-20"));
    expect(good.problems).toEqual([]);
    const bad = await readText(lines(header, "F1,1000,1010,1600,1000,-3000,0,10,-600"));
    expect(bad.problems.map(({ column }) => column)).toEqual(["nds.sweep.2@180", "ds.face@240"]);
  });

  it("refuses a section that the seat does not have", async () => {
    // The seat of the demonstration drawing is 12 mm deep (invented).
    const { problems } = await readText(lines("serial,nds.bore.12@12-6,nds.bore.12.5@12-6", "F1,40.97,40.97"));
    expect(problems.map(({ column, rule }) => [column, rule])).toEqual([
      ["nds.bore.12.5@12-6", "a section must lie inside the seat, at most 12 mm deep"],
    ]);
    expect((await readText(lines("serial,nds.bore.12@12-6,nds.bore.80@12-6", "F1,40.97,"))).problems).toEqual([]);
  });

  it("does not confuse sections of different depths", async () => {
    const header = "serial,nds.sweep.2@0,nds.sweep.2@120,nds.sweep.2@240,nds.sweep.8@0,nds.sweep.8@120,nds.sweep.8@240";
    expect((await readText(lines(header, "F1,0,1,2,900,901,902"))).problems).toEqual([]);
  });
});

describe("rows that belong together", () => {
  const header = "serial,batch,operation,measured_at,width@3,width@6";

  it("takes the same values of the same serial, operation and time for one inspection", async () => {
    const row = "F1,B,m,2026-06-03T08:00:00Z,86.5,86.4";
    const { found, problems, warnings } = await readText(lines(header, row, row));
    expect(problems).toEqual([]);
    expect(found).toHaveLength(1);
    expect(warnings).toEqual([expect.stringContaining("counted once")]);
  });

  it("recognises the same time in another zone and the same number written otherwise", async () => {
    const { found } = await readText(
      lines(header, "F1,B,m,2026-06-03T08:00:00Z,86.5,86.4", "F1,B,m,2026-06-03T10:00:00+02:00,86.50,+86.4"),
    );
    expect(found).toHaveLength(1);
  });

  it("refuses other values, names both rows, and keeps neither", async () => {
    const { problems, badRows } = await readText(
      lines(header, "F1,B,m,2026-06-03T08:00:00Z,86.5,86.4", "F1,B,m,2026-06-03T08:00:00Z,86.5,86.3"),
    );
    expect(problems).toEqual([expect.objectContaining({ row: 3, rule: expect.stringContaining("row 2") })]);
    expect([...badRows.keys()].sort()).toEqual([2, 3]);
  });

  it("takes another operation or another time for another inspection", async () => {
    const { found, problems } = await readText(
      lines(
        header,
        "F1,B,m,2026-06-03T08:00:00Z,86.5,86.4",
        "F1,B,p,2026-06-03T08:00:00Z,86.5,86.3",
        "F1,B,m,2026-06-03T09:00:00Z,86.5,86.3",
      ),
    );
    expect(problems).toEqual([]);
    expect(found).toHaveLength(3);
  });

  it("goes by `inspection` where no time is written", async () => {
    const named = await readText(lines("serial,inspection,width@3", "F1,one,86.5", "F1,two,86.4"));
    expect(named.problems).toEqual([]);
    expect(named.found).toHaveLength(2);
    const nameless = await readText(lines("serial,inspection,width@3", "F1,,86.5", "F1,,86.4"));
    expect(nameless.problems).toEqual([expect.objectContaining({ row: 3, column: "serial" })]);
  });

  it("refuses a serial of two batches or two drawings", async () => {
    const batches = await readText(
      lines(header, "F1,B,m,2026-06-03T08:00:00Z,86.5,86.4", "F1,C,m,2026-06-03T09:00:00Z,86.5,86.4"),
    );
    expect(batches.problems).toEqual([
      expect.objectContaining({ row: 3, column: "batch", value: "C", rule: expect.stringContaining("row 2") }),
    ]);
    const drawings = await readText(
      lines(
        "serial,drawing,measured_at,width@3",
        "F1,press-fit-41,2026-06-03T08:00:00Z,86.5",
        "F1,press-fit-46,2026-06-03T09:00:00Z,86.5",
      ),
      { drawing: null },
    );
    expect(drawings.problems).toEqual([expect.objectContaining({ row: 3, column: "drawing" })]);
  });

  it("refuses a drawing other than the one asked for, an unknown one, and none at all", async () => {
    const file = (drawing: string) => lines("serial,drawing,width@3", `F1,${drawing},86.5`);
    const other = await readText(file("press-fit-46"));
    expect(other.problems).toEqual([expect.objectContaining({ row: 2, column: "drawing", value: "press-fit-46" })]);
    const unknown = await readText(file("press-fit-40"), { drawing: null });
    expect(unknown.problems[0]?.rule).toContain("press-fit-41, press-fit-46, press-fit-42");
    const none = await readText(file(""), { drawing: null });
    expect(none.problems).toEqual([expect.objectContaining({ row: 2, column: "drawing" })]);
    const own = await readText(file("press-fit-46"), { drawing: null });
    expect(own.found[0]?.drawing).toBe(findDemonstrationDrawing("press-fit-46"));
  });

  it("warns once of times without an offset and of times in the future", async () => {
    const rows = lines("serial,measured_at,width@3", "F1,2026-06-03T08:00:00,86.5", "F2,2026-06-03T08:10:00,86.5");
    const { warnings } = await readText(rows, { nowMs: Date.UTC(2026, 0, 1) });
    expect(warnings).toEqual([
      expect.stringMatching(/UTC.*2 rows, the first is row 2/),
      expect.stringContaining("future"),
    ]);
    expect((await readText(rows, { zone: "Europe/Vienna" })).warnings).toEqual([]);
  });
});

describe("one row per reading", () => {
  const header = "serial,batch,operation,inspection,measured_at,what,value";

  it("gathers the rows of one inspection, in any order", async () => {
    const rows = [
      "F1,B,m,,2026-06-03T08:00:00Z,width@3,86.5",
      "F2,B,m,,2026-06-03T08:00:00Z,width@3,86.4",
      "F1,B,m,,2026-06-03T08:00:00Z,ds.bore.2@6-12,40.975",
      "F2,B,m,,2026-06-03T08:00:00Z,ds.plug.40.95,hand",
    ];
    const values = async (order: string[]) => {
      const { found, problems } = await readText(lines(header, ...order));
      expect(problems).toEqual([]);
      const named = found.map(({ serial, columns, values: all }) => [
        serial,
        Object.fromEntries(columns.map(({ key }, index) => [key, all[index]]).filter(([, value]) => value !== null)),
      ]);
      return Object.fromEntries(named) as unknown;
    };
    const expected = {
      F1: { "width@3": 86.5, "ds.bore.2@12-6": 40.975 },
      F2: { "width@3": 86.4, "ds.plug.40.95": "hand" },
    };
    expect(await values(rows)).toEqual(expected);
    expect(await values([...rows].reverse())).toEqual(expected);
  });

  it("tells inspections apart by `inspection`, and by time without it", async () => {
    const byName = await readText(
      lines(
        header,
        "F1,B,m,one,2026-06-03T08:00:00Z,width@3,86.5",
        "F1,B,m,one,2026-06-03T08:01:00Z,width@6,86.4",
        "F1,B,m,two,2026-06-03T09:00:00Z,width@3,86.3",
      ),
    );
    expect(byName.problems).toEqual([]);
    expect(byName.found).toHaveLength(2);
    expect(byName.found[0]?.measuredAt).toBe(Date.UTC(2026, 5, 3, 8, 1));
    const byTime = await readText(
      lines(header, "F1,B,m,,2026-06-03T08:00:00Z,width@3,86.5", "F1,B,m,,2026-06-03T08:01:00Z,width@6,86.4"),
    );
    expect(byTime.found).toHaveLength(2);
  });

  it("takes a reading twice with one value, not with two", async () => {
    const same = await readText(lines(header, "F1,B,m,a,,width@3,86.5", "F1,B,m,a,,width@3,86.50"));
    expect(same.problems).toEqual([]);
    const other = await readText(lines(header, "F1,B,m,a,,width@3,86.5", "F1,B,m,a,,width@3,86.4"));
    expect(other.problems).toEqual([
      expect.objectContaining({ row: 3, column: "width@3", value: "86.4", rule: expect.stringContaining("row 2") }),
    ]);
  });

  it("refuses rows of one inspection that contradict each other in batch, but not in gauge", async () => {
    const { problems } = await readText(lines(header, "F1,B,m,a,,width@3,86.5", "F1,C,m,a,,width@6,86.5"));
    expect(problems).toEqual([expect.objectContaining({ row: 3, column: "batch", value: "C" })]);
    const gauges = await readText(lines(`gauge,${header}`, "G1,F1,B,m,a,,width@3,86.5", "G2,F1,B,m,a,,width@6,86.5"));
    expect(gauges.problems).toEqual([]);
  });

  it("names the row of an unknown reading and of a value that cannot be true", async () => {
    const { problems } = await readText(
      lines(
        header,
        "F1,B,m,a,,width@3,86.5",
        "F1,B,m,a,,width@90,86.5",
        "F1,B,m,a,,depth,3",
        "F2,B,m,b,,ds.bore.2@12-6,419.750",
        "F3,B,m,c,,ds.bore.2@12-6,40.97x",
      ),
    );
    expect(problems.map(({ row, column, value }) => [row, column, value])).toEqual([
      [3, "what", "width@90"],
      [4, "what", "depth"],
      [5, "ds.bore.2@12-6", "419.750"],
      [6, "ds.bore.2@12-6", "40.97x"],
    ]);
  });

  it("gives back the whole inspection with a bad row, and no other", async () => {
    const { badRows, found } = await readText(
      lines(header, "F1,B,m,a,,width@3,86.5", "F2,B,m,b,,width@3,86.5", "F1,B,m,a,,width@6,wide"),
    );
    expect([...badRows.keys()].sort()).toEqual([2, 4]);
    expect(badRows.get(2)).toContain("row 4");
    expect(found.map(({ serial }) => serial)).toEqual(["F2"]);
  });

  it("refuses reading columns beside what and value", async () => {
    const { problems } = await readText(lines(`${header},width@3`, "F1,B,m,a,,width@6,86.5,86.5"));
    expect(problems[0]).toMatchObject({ row: 1, column: "width@3" });
  });
});
