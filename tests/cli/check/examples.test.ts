import { readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { createJsonOutput } from "@/lib/cli/check/json-output";
import { checkFile } from "@/lib/cli/check/check-file";
import { EXAMPLE_FILES, exampleFileText } from "@/lib/simulation/example-files";
import { parseJson, ROOT, runCheck, runProgram } from "./run-check";

const FOLDER = path.join(ROOT, "public/examples");

describe("the example files", () => {
  it("are all there, and no other", () => {
    expect(
      readdirSync(FOLDER)
        .filter((name) => name.endsWith(".csv"))
        .sort(),
    ).toEqual(EXAMPLE_FILES.map(({ file }) => file).sort());
  });

  it.each(EXAMPLE_FILES)("$file is written again byte by byte", ({ file }) => {
    expect(readFileSync(path.join(FOLDER, file), "utf8")).toBe(exampleFileText(file));
  });

  it.each(EXAMPLE_FILES)(
    "$file: exit code $exitCode, naming $characteristic of $heldBatch",
    async ({ file, exitCode, characteristic, heldBatch }) => {
      const [json, human] = await Promise.all([
        runCheck([path.join(FOLDER, file), "--json"]),
        runCheck([path.join(FOLDER, file)]),
      ]);
      expect(json.code, json.err).toBe(exitCode);
      expect(human.code).toBe(exitCode);
      const result = parseJson(json);
      const held = result.batches.filter(({ decision }) => decision === "hold");
      expect(held.map(({ batch }) => batch)).toEqual(heldBatch === null ? [] : [heldBatch]);
      if (characteristic !== null && heldBatch !== null) {
        const named = held[0]?.reasons.filter((reason) => reason.characteristic === characteristic) ?? [];
        expect(named.length).toBeGreaterThan(0);
        expect(named[0]?.serials.length).toBeGreaterThan(0);
        const line = new RegExp(`HOLD +${heldBatch}[^]*?${characteristic}`, "i");
        expect(human.out).toMatch(line);
      }
      if (exitCode === 1) {
        expect(result.frames).toEqual([]);
        expect(result.batches).toEqual([]);
        expect(result.errors.length).toBeGreaterThan(0);
      } else {
        expect(result.errors).toEqual([]);
        for (const { reasons } of result.batches.filter(({ decision }) => decision === "ship"))
          expect(reasons).toEqual([]);
      }
    },
  );

  it("tell wear by a case long before a frame is near its limit", async () => {
    const run = await runCheck([path.join(FOLDER, "reamer-wear-in-time.csv"), "--json"]);
    expect(run.code).toBe(0);
    const { cases, batches } = parseJson(run);
    expect(cases.map(({ kind }) => kind)).toEqual(["trend"]);
    const last = batches.at(-1);
    expect(last).toMatchObject({ decision: "ship", reasons: [] });
    expect(last?.notes.filter(({ code }) => code === "signal").map(({ text }) => text)).toEqual([
      expect.stringMatching(/^A case, .*trend of .* a frame; at /),
    ]);
  });

  it("say nothing of batches in which no case signals", async () => {
    const run = await runCheck([path.join(FOLDER, "good.csv"), "--json"]);
    const { cases, batches } = parseJson(run);
    expect(cases).toEqual([]);
    // Run rules of 14 streams over 300 frames: the files' own charts do signal.
    expect(parseJson(run).streams.some(({ signals }) => signals.length > 0)).toBe(true);
    expect(batches.flatMap(({ notes }) => notes.filter(({ code }) => code === "signal"))).toEqual([]);
  });
});

describe("through npm", () => {
  it("prints the JSON object and nothing else on standard output", async () => {
    const run = await runProgram(
      "npm",
      ["run", "-s", "check", "--", "public/examples/knocked-fixture.csv", "--json"],
      ROOT,
    );
    expect(run.code).toBe(2);
    expect(parseJson(run).frames).toHaveLength(120);
  });

  it("writes 300 frames with what they mean; how long that takes is measured in tests/bench", async () => {
    const settings = {
      path: path.join(FOLDER, "good.csv"),
      name: "good.csv",
      drawing: null,
      zone: null,
      baselineFrames: null,
    };
    let characters = 0;
    const output = createJsonOutput((text) => (characters += text.length));
    const outcome = await checkFile({ ...settings, nowMs: 0, goOnWithGoodRows: false }, { onFrame: output.frame });
    output.finish(outcome);
    expect(outcome.frames).toBe(300);
    expect(characters).toBeGreaterThan(1e6);
  });
});
