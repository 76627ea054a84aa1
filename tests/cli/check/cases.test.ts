import path from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { checkFile } from "@/lib/cli/check/check-file";
import { createJsonOutput } from "@/lib/cli/check/json-output";
import { exampleFileText } from "@/lib/simulation/example-files";
import { type CheckJson, parseJson, ROOT, runCheck, testFolder } from "./run-check";

const folder = testFolder();
afterAll(folder.remove);

/** The JSON object of a file's text, in this process. */
async function checked(name: string, text: string, budget?: number): Promise<CheckJson> {
  const parts: string[] = [];
  const output = createJsonOutput((part) => parts.push(part));
  const outcome = await checkFile(
    {
      path: folder.write(name, text),
      name,
      drawing: null,
      zone: null,
      baselineFrames: null,
      nowMs: Date.UTC(2026, 11, 1),
      goOnWithGoodRows: false,
      ...(budget === undefined ? {} : { budget }),
    },
    { onFrame: output.frame },
  );
  output.finish(outcome);
  return JSON.parse(parts.join("")) as CheckJson;
}

/** Text of a file with the cells of some columns rewritten. */
function rewritten(text: string, isMeant: (column: string) => boolean, cell: (value: string, row: number) => string) {
  const [header = "", ...rows] = text.trimEnd().split("\r\n");
  const columns = header.split(",");
  const changed = rows.map((row, at) =>
    row
      .split(",")
      .map((value, place) => (isMeant(columns[place] ?? "") ? cell(value, at) : value))
      .join(","),
  );
  return [header, ...changed, ""].join("\r\n");
}

const serial = (line: string, frame: number) => `${line}-${String(4001 + frame).padStart(5, "0")}`;

// What the simulation of each example did (lib/simulation/example-files.ts): first faulty frame and the frame after the last one.
const STORIES = [
  {
    file: "reamer-wear-in-time.csv",
    line: "C41",
    kind: "trend",
    name: "bore",
    from: 110,
    to: null,
    causes: ["reamer worn", "gauge"],
  },
  {
    file: "reamer-wear.csv",
    line: "C41",
    kind: "trend",
    name: "bore",
    from: 100,
    to: null,
    causes: ["reamer worn", "gauge"],
  },
  {
    file: "knocked-fixture.csv",
    line: "C41",
    kind: "step",
    name: "coaxiality",
    from: 40,
    to: 80,
    causes: ["fixture moved"],
  },
  { file: "oval-mould.csv", line: "C41", kind: "step", name: "ovality", from: 40, to: 80, causes: ["mould"] },
  { file: "drifting-gauge.csv", line: "A46", kind: "trend", name: "bore", from: 80, to: null, causes: ["gauge"] },
  { file: "tired-inspector.csv", line: "A46", kind: "spread", name: "bore", from: 20, to: null, causes: ["inspector"] },
  {
    file: "paint-in-bore.csv",
    line: "A46",
    kind: "frames",
    name: "bore",
    from: 40,
    to: 77,
    causes: ["paint in the bore"],
  },
] as const;

describe("cases of the example files", () => {
  it.each(STORIES)("$file is one $kind by $causes", async ({ file, line, kind, name, from, to, causes }) => {
    const { cases } = await checked(file, exampleFileText(file));
    expect(cases).toHaveLength(1);
    const [found] = cases;
    expect(found?.line).toBe(line);
    expect(found?.kind).toBe(kind);
    expect(found?.characteristics.map((one) => one.name)).toContain(name);
    // a trend is nothing at its first frame, so that the next one may be the first to be seen
    const first = [serial(line, from), serial(line, from + (kind === "trend" ? 1 : 0))] as const;
    expect((found?.since.earliest ?? "?") <= first[1], JSON.stringify(found?.since)).toBe(true);
    expect((found?.since.latest ?? "") >= first[0], JSON.stringify(found?.since)).toBe(true);
    expect(causes).toContain(found?.causes[0]?.cause);
    expect(found?.causes.every(({ why }) => why.length > 10)).toBe(true);
    if (to === null) expect(found?.until).toBeNull();
    else expect([serial(line, to - 2), serial(line, to - 1), serial(line, to)]).toContain(found?.until);
  });

  it("good.csv has none, nor has it with a budget ten times as large", async () => {
    expect((await checked("good.csv", exampleFileText("good.csv"))).cases).toEqual([]);
    expect((await checked("good.csv", exampleFileText("good.csv"), 5)).cases).toEqual([]);
  });

  it("lists the frames outside limits: those with paint in the bore, and all that the knocked fixture made", async () => {
    const paint = await checked("paint-in-bore.csv", exampleFileText("paint-in-bore.csv"));
    const painted = Array.from({ length: 10 }, (_, at) => serial("A46", 40 + 4 * at));
    expect(paint.cases[0]?.frames).toEqual(painted);
    const knocked = await checked("knocked-fixture.csv", exampleFileText("knocked-fixture.csv"));
    expect(knocked.cases[0]?.frames).toHaveLength(40);
  });
});

describe("the command", () => {
  const knocked = path.join(ROOT, "public/examples/knocked-fixture.csv");

  it("gives cases as JSON and in words", async () => {
    const [json, human] = await Promise.all([runCheck([knocked, "--json", "--budget", "1"]), runCheck([knocked])]);
    const [found] = parseJson(json).cases;
    expect(found?.change.unit).toBe("µm");
    // the fixture was moved by 66 um towards 4 o'clock (lib/simulation/process-faults.ts)
    expect(Math.abs((found?.change.value ?? 0) - 66)).toBeLessThan(4);
    expect(human.out).toMatch(
      /Cases: what changed\n {2}⚑ NDS coaxiality[^\n]*towards 4 o'clock since C41-04041[^\n]*until C41-04080/,
    );
    expect(human.out).toContain("Probably fixture moved");
  });

  it.each(["0", "none", "1000"])("refuses a budget of %s", async (budget) => {
    const run = await runCheck([knocked, "--json", "--budget", budget]);
    expect(run.code).toBe(1);
    expect(run.err).toContain("--budget must be a number of false cases per 1,000 frames from 0.001 to 20");
    expect(parseJson(run).cases).toEqual([]);
  });
});

describe("files that say little", () => {
  const good = exampleFileText("good.csv");
  const isBore = (column: string) => column.includes(".bore.");
  const firstRows = (count: number) =>
    good
      .split("\r\n")
      .slice(0, count + 1)
      .join("\r\n") + "\r\n";

  it.each([
    ["12 frames", firstRows(12)],
    ["one frame", firstRows(1)],
    [
      "two frames a month",
      rewritten(
        good,
        (c) => c === "measured_at",
        (_, row) => new Date(Date.UTC(2014, 0, 1) + row * 15 * 86_400_000).toISOString(),
      ),
    ],
    [
      "all at one second",
      rewritten(
        good,
        (c) => c === "measured_at",
        () => "2026-06-01T08:00:00Z",
      ),
    ],
    [
      "all widths equal",
      rewritten(
        good,
        (c) => c.startsWith("width"),
        () => "86.500",
      ),
    ],
    [
      "no times",
      rewritten(
        good,
        (c) => c === "measured_at",
        () => "",
      ),
    ],
  ])("%s: no case and no failure", async (name, text) => {
    const result = await checked("file.csv", text);
    expect(result.errors).toEqual([]);
    expect(result.cases, name).toEqual([]);
  });

  it("two, three and ten frames with one outside its limits are judged without a failure", async () => {
    const [header = "", ...rows] = exampleFileText("paint-in-bore.csv").trimEnd().split("\r\n");
    for (const frames of [2, 3, 10]) {
      const text = [header, ...rows.slice(40, 40 + frames), ""].join("\r\n");
      const result = await checked("few.csv", text);
      expect(result.errors).toEqual([]);
      expect(result.frames.find((one) => one.serial === serial("A46", 40))?.verdict).toBe("does not conform");
    }
  });

  it("a bore gauge of 10 µm is said to be too coarse, is quiet, and shows a change of more than its step", async () => {
    const coarse = (addedUm: number) =>
      rewritten(good, isBore, (value, row) =>
        (Math.round(Number(value) * 100 + (row < 120 ? 0 : addedUm / 10)) / 100).toFixed(3),
      );
    const quiet = await checked("coarse.csv", coarse(0));
    expect(quiet.errors).toEqual([]);
    expect(quiet.cases).toEqual([]);
    expect(quiet.warnings.join(" ")).toMatch(
      /The gauge does not resolve the variation of DS bore, NDS bore,[^:]*line C41: /,
    );
    const [found, ...others] = (await checked("moved.csv", coarse(14))).cases;
    expect(others).toEqual([]);
    expect(found).toMatchObject({ kind: "step", since: { serial: serial("C41", 120) }, until: null });
    expect(Math.abs((found?.change.value ?? 0) - 14)).toBeLessThan(3);
  });

  it("takes rows in any order", async () => {
    const text = exampleFileText("drifting-gauge.csv");
    const [header = "", ...rows] = text.trimEnd().split("\r\n");
    const turned = [header, ...rows.reverse(), ""].join("\r\n");
    expect((await checked("turned.csv", turned)).cases).toEqual((await checked("straight.csv", text)).cases);
  });
});
