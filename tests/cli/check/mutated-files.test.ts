import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import { afterAll, expect, test } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { checkFile, type CheckOutcome } from "@/lib/cli/check/check-file";
import { createJsonOutput } from "@/lib/cli/check/json-output";
import { ROOT, testFolder, type CheckJson } from "./run-check";

const FILES = Number(process.env.MUTATED_FILES ?? 60);
const SEED = Number(process.env.MUTATED_SEED ?? 41);
const folder = testFolder();
afterAll(() => folder.remove());

type Table = string[][];
const random = createSeededGenerator(SEED);
const below = (n: number): number => Math.floor(random.uniform() * n);
function pick<T>(list: readonly T[]): T {
  return list[below(list.length)] as T;
}

function example(name: string, rows: number): Table {
  const text = readFileSync(path.join(ROOT, "public/examples", name), "utf8");
  return text
    .trim()
    .split(/\r?\n/)
    .slice(0, rows + 1)
    .map((line) => line.split(","));
}
/** One row per frame, several lines and batches; and one row per reading. */
const SOURCES: readonly Table[] = [
  example("good.csv", 60),
  example("oval-mould.csv", 90),
  example("paint-in-bore.csv", 60),
  example("tired-inspector.csv", 400),
];

const ODD_CELLS = [
  "",
  " ",
  "NaN",
  "Infinity",
  "-inf",
  "1e3",
  "1e400",
  "40,975",
  "40.975mm",
  "409.75",
  "49.075",
  "0",
  "-0",
  "+40.975",
  "40.975.1",
  "40 975",
  "1'234.5",
  "99999999999999999999",
  "true",
  "null",
  "=1+1",
  "@x",
  "'-5",
  '"',
  '"quoted"',
  'half "quoted',
  "a\u0000b",
  "\ufeff",
  "\u2212 5",
  "٤٠",
  "__proto__",
  "constructor",
  "slides",
  "stiff@4:30",
  "free",
  "press-fit-46",
  "press-fit-42",
  "2026-06-01T07:00:00",
  "2026-06-31T07:00:00Z",
  "2026-06-01",
  "x".repeat(300),
  "two\nlines",
  "a;b\tc",
];
const ODD_COLUMNS = [
  "",
  "note",
  "error",
  "serial",
  "Batch",
  "what",
  "value",
  "ds.bore.2@12-5",
  "ds.bore.99@12-6",
  "ds.sweep.2@0",
  "nds.sweep.5@33.3",
  "nds.sweep.2@360",
  "width@90",
  "width@11:30",
  "ds.plug.40.95",
  "bar.A",
  "temperature_c",
  "inspection",
  "gauge.sweep",
  "__proto__",
];

/** Places of a table that exist: a row below the header, and a cell of it. */
const aRow = (table: Table): string[] => table[1 + below(Math.max(1, table.length - 1))] ?? [];
const CHANGES: readonly ((table: Table) => void)[] = [
  (table) => {
    const row = aRow(table);
    row[below(row.length)] = pick(ODD_CELLS);
  },
  (table) => {
    const at = below(table[0]?.length ?? 1);
    for (const row of table.slice(1)) row[at] = "";
  },
  (table) => void table[0]?.splice(below(table[0].length), 1, pick(ODD_COLUMNS)),
  (table) => {
    const name = pick(ODD_COLUMNS);
    const cell = pick(ODD_CELLS);
    table.forEach((row, at) => row.push(at === 0 ? name : cell));
  },
  (table) => {
    const at = below(table[0]?.length ?? 1);
    for (const row of table) row.splice(at, 1);
  },
  (table) => void table.splice(1 + below(table.length), 0, [...aRow(table)]),
  (table) => void table.splice(1 + below(table.length), 0, [...(table[0] ?? [])]),
  (table) => void table.splice(1 + below(table.length), below(table.length)),
  (table) => void table.push(["", "", ""]),
  (table) => void aRow(table).push("one more"),
  (table) => void aRow(table).pop(),
  (table) =>
    void table.sort(() => random.uniform() - 0.5).sort((a, b) => Number(b[0] === "serial") - Number(a[0] === "serial")),
  (table) => {
    const [a, b] = [aRow(table), aRow(table)];
    a[0] = b[0] ?? "";
  },
];

function asText(table: Table): string {
  const separator = pick([",", ",", ",", ";", "\t"]);
  const end = pick(["\n", "\r\n", "\r"]);
  const comma = separator !== "," && random.uniform() < 0.5;
  const quoteAll = random.uniform() < 0.2;
  const cell = (text: string, isHeader: boolean): string => {
    const written = comma && !isHeader && /^-?\d+\.\d+$/.test(text) ? text.replace(".", ",") : text;
    const mustQuote = quoteAll || /[",;\t\r\n]/.test(written);
    return mustQuote && random.uniform() < 0.97 ? `"${written.replaceAll('"', '""')}"` : written;
  };
  const lines = table.map((row, at) => row.map((text) => cell(text, at === 0)).join(separator));
  return `${random.uniform() < 0.3 ? "\ufeff" : ""}${lines.join(end)}${random.uniform() < 0.8 ? end : ""}`;
}

/** Bytes that are hurt as a bad cable or a wrong program hurts them. */
function hurt(bytes: Buffer): Buffer {
  const kind = random.uniform();
  if (kind < 0.8 || bytes.length === 0) return bytes;
  if (kind < 0.9) return bytes.subarray(0, below(bytes.length));
  const copy = Buffer.from(bytes);
  for (let n = 0; n < 5; n += 1) copy[below(copy.length)] = below(256);
  return copy;
}

async function check(file: string): Promise<{ readonly outcome: CheckOutcome; readonly json: CheckJson }> {
  let text = "";
  const json = createJsonOutput((piece) => (text += piece));
  const settings = {
    path: file,
    name: path.basename(file),
    drawing: null,
    zone: null,
    baselineFrames: null,
    nowMs: Date.parse("2026-11-25T12:00:00Z"),
    goOnWithGoodRows: false,
  };
  const outcome = await checkFile(settings, { onFrame: json.frame });
  json.finish(outcome);
  return { outcome, json: JSON.parse(text) as CheckJson };
}

/** What has to hold of every file, however it came to be. */
function expectSense({ outcome, json }: Awaited<ReturnType<typeof check>>, rows: number): void {
  expect([0, 1, 2]).toContain(outcome.exitCode);
  if (outcome.exitCode === 1) {
    expect(json.errors.length).toBeGreaterThan(0);
    expect([json.frames, json.batches, json.streams]).toEqual([[], [], []]);
  } else {
    expect(json.errors).toEqual([]);
    expect(json.frames.length).toBeGreaterThan(0);
    expect(json.batches.some(({ decision }) => decision === "hold")).toBe(outcome.exitCode === 2);
  }
  for (const { row, rule } of json.errors) {
    expect(rule).toMatch(/\S/);
    if (row !== null) expect(row).toBeGreaterThanOrEqual(1);
    if (row !== null) expect(row).toBeLessThanOrEqual(rows);
  }
  for (const frame of json.frames)
    for (const { verdict, value, uncertainty } of frame.characteristics) {
      expect(["conforms", "not proven", "does not conform", "not measured"]).toContain(verdict);
      expect(value === null || Number.isFinite(value)).toBe(true);
      expect(Number.isFinite(uncertainty)).toBe(true);
    }
  for (const { decision, reasons } of json.batches) expect(reasons.length > 0).toBe(decision === "hold");
}

test(`answers ${FILES} files that were changed at random with errors or results, never with a fault (seed ${SEED})`, async () => {
  const codes = { 0: 0, 1: 0, 2: 0 };
  const file = folder.path("mutated.csv");
  for (let number = 0; number < FILES; number += 1) {
    const table = pick(SOURCES).map((row) => [...row]);
    for (let n = below(4); n > 0; n -= 1) pick(CHANGES)(table);
    const bytes = hurt(Buffer.from(asText(table)));
    writeFileSync(file, bytes);
    try {
      const result = await check(file);
      expectSense(result, bytes.toString("latin1").split(/\r\n|\r|\n/).length + 1);
      codes[result.outcome.exitCode] += 1;
    } catch (error) {
      writeFileSync(path.join(process.env.MUTATED_KEEP ?? folder.path("."), `fault-${SEED}-${number}.csv`), bytes);
      throw new Error(`file ${number} of seed ${SEED}`, { cause: error });
    }
  }
  // The changes are such that every way out is taken: otherwise the test looks at too little.
  expect(Math.min(codes[0], codes[1], codes[2])).toBeGreaterThan(FILES / 20);
});
