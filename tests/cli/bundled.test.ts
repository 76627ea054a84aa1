import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { bundledCommand } from "@/lib/cli/bundled.mjs";
import { type CheckRun, ROOT, runCheck, runProgram } from "./check/run-check";

let root: string;
const at = (name: string): string => path.join(root, name);
beforeEach(() => {
  root = mkdtempSync(path.join(os.tmpdir(), "bundled-"));
  mkdirSync(at("node_modules"));
  writeFileSync(at("tsconfig.json"), JSON.stringify({ compilerOptions: { paths: { "@/*": ["./*"] } } }));
  writeFileSync(at("command.ts"), `import { word } from "@/word";\nprocess.stdout.write(word);\n`);
  writeFileSync(at("word.ts"), `export const word: string = "first";\n`);
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const make = () => bundledCommand(at("command.ts"), root);
const run = (bundle: string | null) =>
  runProgram(process.execPath, ["--enable-source-maps", bundle ?? "no bundle"], root);

describe("a command kept as one file", () => {
  it("stays while no source changes, and sees each that does", async () => {
    const first = await make();
    expect((await run(first)).out).toBe("first");
    expect(await make()).toBe(first);
    writeFileSync(at("word.ts"), `export const word: string = "other";\n`);
    expect((await run(await make())).out).toBe("other");
    writeFileSync(at("command.ts"), `process.stdout.write("alone");\n`);
    expect((await run(await make())).out).toBe("alone");
  });

  it("is made anew where the packages changed or its list was cut short", async () => {
    const first = await make();
    const list = at("node_modules/.cache/shellgate/command.json");
    const kept = readFileSync(list, "utf8");
    writeFileSync(list, kept.slice(0, 40));
    expect(await make()).toBe(first);
    expect(readFileSync(list, "utf8")).toBe(kept);
    writeFileSync(at("node_modules/.package-lock.json"), "{}");
    await make();
    expect(readFileSync(list, "utf8")).not.toBe(kept);
  });

  it("names the line of the source where it fails, and where a source is", async () => {
    writeFileSync(
      at("word.ts"),
      `type Unused = string;\n\nexport const word: string = null!;\nthrow new Error(import.meta.dirname);\n`,
    );
    const { code, err } = await run(await make());
    expect(code).toBe(1);
    expect(err).toContain(`Error: ${root}\n`);
    expect(err).toMatch(/word\.ts:4:7/);
  });

  it("is null where a source has a fault, and where nothing can be kept", async () => {
    writeFileSync(at("word.ts"), "export const word = ;\n");
    expect(await make()).toBeNull();
    writeFileSync(at("word.ts"), `export const word: string = "first";\n`);
    writeFileSync(at("node_modules/.cache"), "a file where the folder would be");
    expect(await make()).toBeNull();
  });

  it("ends as the sources do", async () => {
    const sources = pathToFileURL(path.join(ROOT, "lib/cli/typescript.mjs")).href;
    const unbundled = (words: readonly string[]) => {
      const start = `const { enableTypeScript } = await import("${sources}"); await enableTypeScript();
        process.argv = [process.argv[0], "check.ts", ...${JSON.stringify(words)}]; await import(${JSON.stringify(pathToFileURL(path.join(ROOT, "lib/cli/check.ts")).href)});`;
      return runProgram(process.execPath, ["--input-type=module", "-e", start], ROOT);
    };
    for (const words of [["--no-such"], ["no-such-file.csv"], ["public/examples/good.csv"], ["--help"]]) {
      // Progress is told by the clock.
      const said = ({ code, out, err }: CheckRun) => ({
        code,
        out,
        err: err.replaceAll(/^.*\(pass \d of \d\)\n/gm, ""),
      });
      expect(said(await runCheck(words))).toEqual(said(await unbundled(words)));
    }
  });
});
