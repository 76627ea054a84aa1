import { existsSync, readFileSync } from "node:fs";
import { afterAll, describe, expect, it } from "vitest";
import { exampleFileText } from "@/lib/simulation/example-files";
import { type CheckJson, parseJson, runCheck, testFolder } from "./run-check";

// Expectations follow from the description of the measurement file and of the command: they are the contract.
// Limits and U are those of the demonstration drawings (invented).

const folder = testFolder();
afterAll(folder.remove);

/** Twelve sound readings of one frame on drawing press-fit-41: three directions at two depths in both seats. */
const BORES = ["ds", "nds"].flatMap((seat) =>
  [2, 8].flatMap((depth) => ["12-6", "2-8", "4-10"].map((direction) => `${seat}.bore.${depth}@${direction}`)),
);
const HEADER = `serial,batch,line,measured_at,${BORES.join(",")}`;
const time = (minute: number) => new Date(Date.UTC(2026, 5, 3, 8, minute)).toISOString();
const row = (
  serial: string,
  batch: string,
  minute: number,
  values: readonly (number | string)[] = BORES.map(() => 40.975),
) => [serial, batch, "C41", time(minute), ...values].join(",");
const withValue = (place: number, value: number | string) =>
  BORES.map((_, index) => (index === place ? value : 40.975));

async function checkText(
  name: string,
  text: string,
  words: string[] = ["--drawing", "press-fit-41"],
): Promise<CheckJson & { code: number | null }> {
  const run = await runCheck([folder.write(name, text), "--json", ...words]);
  return { ...parseJson(run), code: run.code };
}

const text = (...rows: string[]) => rows.map((one) => `${one}\r\n`).join("");

describe("verdicts and decisions", () => {
  it("ships a batch whose frames conform, with the promised fields", async () => {
    const result = await checkText("ship.csv", text(HEADER, row("F1", "A", 0), row("F2", "A", 1)));
    expect(result.code).toBe(0);
    expect(result.frames.map(({ serial, batch, verdict }) => ({ serial, batch, verdict }))).toEqual([
      { serial: "F1", batch: "A", verdict: "conforms" },
      { serial: "F2", batch: "A", verdict: "conforms" },
    ]);
    const bore = result.frames[0]?.characteristics.find(({ name, seat }) => name === "bore" && seat === "ds");
    expect(bore).toMatchObject({ value: 40.975, unit: "mm", lower: 40.95, upper: 41, verdict: "conforms" });
    expect(bore?.uncertainty).toBeGreaterThan(0.005);
    expect(bore?.uncertainty).toBeLessThan(0.0065);
    expect(new Set(result.frames[0]?.characteristics.map(({ name }) => name))).toEqual(
      new Set(["bore", "ovality", "taper"]),
    );
    expect(result.batches).toEqual([expect.objectContaining({ batch: "A", decision: "ship", reasons: [] })]);
    expect(result.errors).toEqual([]);
  });

  it("holds for a bore that does not conform or is not proven, and says which, in which batch", async () => {
    const result = await checkText(
      "hold.csv",
      text(HEADER, row("F1", "A", 0, withValue(0, 40.943)), row("F2", "B", 1, withValue(7, 40.998)), row("F3", "C", 2)),
    );
    expect(result.code).toBe(2);
    expect(result.frames.map(({ verdict }) => verdict)).toEqual(["does not conform", "not proven", "conforms"]);
    expect(result.batches.map(({ decision }) => decision)).toEqual(["hold", "hold", "ship"]);
    const [first] = result.batches[0]?.reasons ?? [];
    expect(first).toMatchObject({ characteristic: "bore", serials: ["F1"] });
    expect(first?.text).toContain("40.943 mm");
    expect(first?.text).toContain("40.950 to 41.000 mm");
  });

  it("takes a frame with a reading missing for not measured and holds its batch, not another", async () => {
    const result = await checkText(
      "missing.csv",
      text(HEADER, row("F1", "A", 0), row("F2", "A", 1, withValue(3, "")), row("F3", "B", 2)),
    );
    expect(result.code).toBe(2);
    expect(result.frames.map(({ verdict }) => verdict)).toEqual(["conforms", "not measured", "conforms"]);
    expect(result.frames[1]?.notMeasured).toContain(BORES[3] ?? "-");
    expect(result.batches.map(({ decision }) => decision)).toEqual(["hold", "ship"]);
    expect(
      result.batches[0]?.reasons.some(({ text: reason, serials }) => reason.includes("F2") && serials.includes("F2")),
    ).toBe(true);
  });

  it("does not ask for a column that a batch does not use at all", async () => {
    const bare = BORES.map((_, index) => (index < 6 ? 40.975 : ""));
    const result = await checkText(
      "unused.csv",
      text(HEADER, row("F1", "A", 0, bare), row("F2", "A", 1, bare), row("F3", "B", 2)),
    );
    expect(result.code).toBe(0);
    expect(result.frames.map(({ verdict }) => verdict)).toEqual(["conforms", "conforms", "conforms"]);
  });

  it("warns of a critical characteristic that no column gives", async () => {
    const result = await checkText("uncovered.csv", text(HEADER, row("F1", "A", 0)));
    expect(result.code).toBe(0);
    expect(result.warnings.join("\n")).toMatch(/coaxiality.*critical/);
    expect(result.warnings.join("\n")).toMatch(/tilt.*critical/);
  });

  it("warns once where no gauge is named, and lets the drawing's U stand", async () => {
    const without = await checkText("no-gauge.csv", text(HEADER, row("F1", "A", 0), row("F2", "A", 1)));
    expect(without.frames.map(({ verdict }) => verdict)).toEqual(["conforms", "conforms"]);
    const warnings = without.warnings.filter((one) => one.includes("no gauge"));
    expect(warnings).toEqual([
      expect.stringMatching(/^2 inspections name no gauge \(first F1, bore\): the drawing's U/),
    ]);
    const named = text(HEADER, row("F1", "A", 0))
      .split("\n")
      .map((line, at) => (line === "" ? line : `${line},${at === 0 ? "gauge" : "BG-1"}`));
    expect((await checkText("gauge.csv", named.join("\n"))).warnings.filter((one) => one.includes("no gauge"))).toEqual(
      [],
    );
  });

  it("judges a frame that was measured again by the mean of its inspections", async () => {
    const result = await checkText(
      "again.csv",
      text(HEADER, row("F1", "A", 0, withValue(0, 40.955)), row("F1", "A", 30, withValue(0, 40.959))),
    );
    expect(result.frames).toHaveLength(1);
    expect(result.frames[0]).toMatchObject({ serial: "F1", inspections: 2, verdict: "conforms" });
    const bore = result.frames[0]?.characteristics.find(({ name, seat }) => name === "bore" && seat === "ds");
    expect(bore?.value).toBeCloseTo(40.957, 9);
    expect(result.warnings.join()).toContain("measured more than once");
  });

  it("holds a frame whose inspections disagree, however many of them are good, and names the two", async () => {
    // Three inspections of 40.975 and one of 41.050 against the limit of 41.000: their mean would conform.
    const bad = row(
      "F1",
      "A",
      40,
      BORES.map(() => 41.05),
    );
    const good = [0, 10, 20].map((minute) => row("F1", "A", minute));
    for (const rows of [
      [...good, bad],
      [
        row(
          "F1",
          "A",
          0,
          BORES.map(() => 41.05),
        ),
        ...[10, 20, 30].map((minute) => row("F1", "A", minute)),
      ],
    ]) {
      const result = await checkText("diluted.csv", text(HEADER, ...rows));
      expect(result.code).toBe(2);
      expect(result.frames[0]).toMatchObject({ inspections: 4, verdict: "does not conform" });
      const bore = result.frames[0]?.characteristics.find(({ name }) => name === "bore");
      expect(bore?.reason).toMatch(/row \d.*40\.975 mm.*row \d.*41\.050 mm/);
    }
  });

  it("reads one row per reading to the same verdicts", async () => {
    const wide = text(HEADER, row("F1", "A", 0, withValue(0, 40.943)), row("F2", "A", 1));
    const long = text(
      "what,value,serial,batch,line,measured_at",
      ...[["F1", 0] as const, ["F2", 1] as const].flatMap(([serial, minute]) =>
        BORES.map(
          (name, index) =>
            `${name},${serial === "F1" && index === 0 ? 40.943 : 40.975},${serial},A,C41,${time(minute)}`,
        ),
      ),
    );
    const [a, b] = await Promise.all([checkText("wide.csv", wide), checkText("long.csv", long)]);
    const facts = ({ frames, batches }: CheckJson) => ({
      frames: frames.map(({ serial, verdict, characteristics }) => ({ serial, verdict, characteristics })),
      batches,
    });
    expect(facts(b)).toEqual(facts(a));
  });

  it("charts by the time of measurement, whatever the order of the rows", async () => {
    const rows = Array.from({ length: 40 }, (_, n) =>
      row(
        `F${n}`,
        "A",
        n,
        BORES.map(() => (40.97 + ((n * 7) % 11) / 2000 + (n === 33 ? 0.02 : 0)).toFixed(4)),
      ),
    );
    const [inOrder, turned] = await Promise.all([
      checkText("order.csv", text(HEADER, ...rows)),
      checkText("turned.csv", text(HEADER, ...[...rows].reverse())),
    ]);
    expect(turned.streams).toEqual(inOrder.streams);
    const stream = inOrder.streams.find(({ characteristic, seat }) => characteristic === "bore" && seat === "ds");
    expect(stream?.limits?.provisional).toBe(true);
    expect(stream?.signals.map(({ serial }) => serial)).toContain("F33");
  });

  it("gives no limits and no capability from a few frames, and says why", async () => {
    const result = await checkText(
      "few.csv",
      text(HEADER, ...Array.from({ length: 24 }, (_, n) => row(`F${n}`, "A", n))),
    );
    const [stream] = result.streams;
    expect(stream).toMatchObject({
      characteristic: "bore",
      line: "C41",
      limits: null,
      signals: [],
      capability: { ok: false },
    });
    expect(stream?.noLimits).toContain("25");
  });

  it("does not ship frames whose readings give no characteristic", async () => {
    const result = await checkText("nothing.csv", text("serial,batch,nds.sweep.2@0", "F1,A,3"));
    expect(result.code).toBe(2);
    expect(result.frames[0]).toMatchObject({ verdict: "not measured", characteristics: [] });
    expect(result.batches[0]?.reasons[0]?.text).toContain("no characteristic");
  });

  it("asks for a plug gauge's feel that the batch uses, and proves nothing where the bore contradicts it", async () => {
    const header = `${HEADER},ds.plug.40.85`;
    const result = await checkText(
      "feel.csv",
      text(header, `${row("F1", "A", 0)},slides`, `${row("F2", "A", 1)},`, `${row("F3", "B", 2)},no`),
    );
    expect(result.frames.map(({ verdict }) => verdict)).toEqual(["conforms", "not measured", "not proven"]);
    const bore = result.frames[2]?.characteristics.find(({ name, seat }) => name === "bore" && seat === "ds");
    expect(bore).toMatchObject({ verdict: "not proven", code: "felt-contradicts" });
    expect(result.batches.map(({ decision }) => decision)).toEqual(["hold", "hold"]);
    expect(result.batches[1]?.reasons[0]?.text).toContain("plug 40.85 does not enter, yet the smallest reading");
  });

  it("says for each frame what its readings mean, each estimate with its uncertainty", async () => {
    const result = await checkText("means.csv", text(HEADER, row("F1", "A", 0)));
    const { meaning } = result.frames[0] as unknown as { meaning: Record<string, Record<string, never>> };
    expect(Object.keys(meaning)).toEqual(["bearings", "functionalSize", "gaugeBar", "salvage", "evidence", "cautions"]);
    for (const one of [meaning.functionalSize, meaning.bearings?.ds as unknown as { fit: object }])
      expect(JSON.stringify(one)).toMatch(/"title":"[^"]+","figure":.*"sentence":"[^"]+".*"uncertainty":/);
    expect(meaning.cautions).toContain("makers-limits-decide");
  });

  // The bounds of plugs and bars: common practice, no source; by hand in tests/quality/judge-felt.test.ts.
  it("does not ship a frame through which the gauge bar does not pass, in JSON and for people", async () => {
    const rows = [`${HEADER},bar.A`, `${row("F1", "A", 0)},no`, `${row("F2", "A", 1)},free`];
    const result = await checkText("bar.csv", text(...rows));
    expect(result.code).toBe(2);
    expect(result.frames.map(({ verdict }) => verdict)).toEqual(["does not conform", "not proven"]);
    const tilt = result.frames[0]?.characteristics.find(({ name, seat }) => name === "tilt" && seat === "ds");
    expect(tilt).toMatchObject({ verdict: "does not conform", code: "felt-breaks-limit", value: null });
    expect(result.batches[0]?.reasons.map((reason) => reason.text)).toContainEqual(
      expect.stringMatching(
        /^Tilt of the DS seat does not conform in 1 of 2 frames: bar A will not pass: .*out of line/,
      ),
    );
    const people = await runCheck([folder.write("bar-words.csv", text(...rows)), "--drawing", "press-fit-41"]);
    expect(people.out).toContain("DS tilt does not conform: bar A will not pass");
    expect(people.out).toContain("NDS tilt not proven: bar A turns freely");
  });

  it("judges a file of plugs and bar alone by their bounds", async () => {
    const columns = [
      ...["ds", "nds"].flatMap((seat) => [`${seat}.plug.40.955`, `${seat}.plug.40.997@across`]),
      "bar.B",
    ];
    const result = await checkText(
      "plugs-and-bar.csv",
      text(
        `serial,batch,${columns.join(",")}`,
        "F1,A,hand,no,slides,no,free",
        "F2,B,no,no,slides,no,free",
        "F3,C,slides,slides,slides,no,free",
        "F4,D,slides,no,slides,no,no",
        "F5,D,slides,no,slides,no,",
      ),
    );
    expect(result.frames.map(({ verdict }) => verdict)).toEqual([
      "conforms",
      "not proven",
      "not proven",
      "not proven",
      "not measured",
    ]);
    expect(result.batches.map(({ decision }) => decision)).toEqual(["ship", "hold", "hold", "hold"]);
    expect(result.frames[0]?.characteristics.map(({ name, seat }) => `${name} ${seat}`)).toEqual([
      "bore ds",
      "bore nds",
      "coaxiality nds",
      "tilt ds",
      "tilt nds",
    ]);
  });

  it("keeps the frames without a batch together", async () => {
    const result = await checkText("nobatch.csv", text("serial,width@3", "F1,86.5", "F2,86.5"));
    expect(result.batches).toEqual([expect.objectContaining({ batch: null, decision: "ship" })]);
  });
});

describe("a bad file", () => {
  const bad = text(
    HEADER,
    row("F1", "A", 0, withValue(0, 40.943)),
    row("F2", "A", 1, withValue(1, "409.75")),
    row("=F3", "A", 2, withValue(2, "40.97 mm")),
  );

  it("judges nothing, writes nothing, and errors win over holds", async () => {
    const file = folder.write("bad.csv", bad);
    const report = folder.path("bad.html");
    const [json, human] = await Promise.all([
      runCheck([file, "--drawing", "press-fit-41", "--json", "--report", report]),
      runCheck([file, "--drawing", "press-fit-41"]),
    ]);
    expect([json.code, human.code]).toEqual([1, 1]);
    const result = parseJson(json);
    expect([result.frames, result.batches, result.streams]).toEqual([[], [], []]);
    expect(result.errors.map(({ row: at, column, value }) => [at, column, value])).toEqual([
      [3, BORES[1], "409.75"],
      [4, BORES[2], "40.97 mm"],
    ]);
    expect(human.out).toContain("row 3");
    expect(human.out).toContain("Nothing was judged");
    expect(existsSync(report)).toBe(false);
  });

  it("goes on with the good rows when asked, and gives the bad ones back with a column error", async () => {
    const file = folder.write("part.csv", bad);
    const [good, wrong] = [folder.path("part-good.csv"), folder.path("part-good.errors.csv")];
    const run = await runCheck([file, "--drawing", "press-fit-41", "--json", "--good-rows", good]);
    expect(run.code).toBe(1);
    const result = parseJson(run);
    expect(result.frames.map(({ serial }) => serial)).toEqual(["F1"]);
    expect(result.batches[0]?.decision).toBe("hold");
    expect(readFileSync(good, "utf8").split("\r\n")).toEqual([HEADER, row("F1", "A", 0, withValue(0, 40.943)), ""]);
    const lines = readFileSync(wrong, "utf8").split("\r\n");
    expect(lines[0]).toBe(`${HEADER},error`);
    expect(lines).toHaveLength(4);
    expect(lines[1]).toMatch(/^F2,A,.*1 mm of the nominal bore/);
    expect(lines[2]).toMatch(/^'=F3,A,/);
    const again = await runCheck([good, "--drawing", "press-fit-41", "--json"]);
    expect(again.code).toBe(2);
  });

  it("replaces an error column that came with the file", async () => {
    const file = folder.write("second.csv", text("serial,error,width@3", "F1,old,86.5", "F2,old,wide"));
    await runCheck([
      file,
      "--drawing",
      "press-fit-41",
      "--good-rows",
      folder.path("s.csv"),
      "--bad-rows",
      folder.path("s-bad.csv"),
    ]);
    const lines = readFileSync(folder.path("s-bad.csv"), "utf8").split("\r\n");
    expect(lines[0]).toBe("serial,error,width@3");
    expect(lines[1]).toMatch(/^F2,.*number.*,wide$/);
  });
});

describe("the command line", () => {
  it.each([
    [["no-such-file.csv"], "must exist"],
    [["."], "not a folder"],
    [["--drawing", "press-fit-99", "x.csv"], "press-fit-41, press-fit-46, press-fit-42"],
    [["--zone", "Europe/Atlantis", "x.csv"], "time zone"],
    [["--colour", "x.csv"], "--colour"],
    [["--baseline", "3", "x.csv"], "baseline"],
    [[], "name the measurement file"],
    [["a.csv", "b.csv"], "one file"],
    [["--report", "x.csv", "x.csv"], "different files"],
  ])("refuses %j with exit code 1 and one JSON object", async (words, rule) => {
    const run = await runCheck([...words, "--json"], { cwd: folder.path(".") });
    expect(run.code).toBe(1);
    expect(parseJson(run).errors).toEqual([
      expect.objectContaining({ row: null, rule: expect.stringContaining(rule) }),
    ]);
  });

  it("explains itself", async () => {
    const run = await runCheck(["--help"]);
    expect(run.code).toBe(0);
    expect(run.out).toContain("--good-rows");
  });

  it("finds files from where the person stands", async () => {
    folder.write("here.csv", text("serial,width@3", "F1,86.5"));
    const run = await runCheck(["here.csv", "--drawing", "press-fit-41"], { cwd: folder.path(".") });
    expect(run.code, run.err).toBe(0);
    expect(run.out).toContain("here.csv: 1 frame");
    expect(run.out).toContain("invented limits");
  });

  it("writes a report that stands by itself and carries no markup from the file", async () => {
    const file = folder.write(
      "report.csv",
      exampleFileText("knocked-fixture.csv").replaceAll("PM-2609-B", "<script>B"),
    );
    const report = folder.path("report.html");
    const run = await runCheck([file, "--report", report]);
    expect(run.code).toBe(2);
    const html = readFileSync(report, "utf8");
    expect(html).toContain("1 of 3 batches on hold");
    expect(html).toContain("&lt;script&gt;B");
    expect(html).not.toContain("<script");
    expect(html).not.toMatch(/(?:src|href)="?https?:/);
    expect(html).toContain("Demonstration limits");
    expect(html).toContain("@media print");
    expect(html.match(/<svg viewBox/g)?.length).toBeGreaterThan(5);
  });
});
