import { execFile } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { promisify } from "node:util";
import { afterAll, describe, expect, it } from "vitest";
import { ROOT } from "./source-files";

type Entry = { readonly name: string };
type Issues = Readonly<Record<string, unknown>> & { readonly file: string };

const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-unused-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** What knip finds with the project's settings, as "kind file: name". */
async function findUnused(directory: string, ...options: readonly string[]): Promise<string[]> {
  const program = path.join(ROOT, "node_modules/knip/bin/knip.js");
  const settings = path.join(directory, "tests/rules/knip.json");
  const words = [program, "--directory", directory, "--config", settings, "--reporter", "json", "--no-exit-code"];
  const { stdout } = await promisify(execFile)(process.execPath, [...words, ...options], {
    cwd: directory,
    maxBuffer: 64 * 1024 * 1024,
  });
  const { issues } = JSON.parse(stdout) as { readonly issues: readonly Issues[] };
  return issues.flatMap((issue) =>
    Object.entries(issue)
      .filter((pair): pair is [string, Entry[]] => Array.isArray(pair[1]) && pair[0] !== "owners")
      .flatMap(([kind, found]) => found.map(({ name }) => `${kind} ${issue.file}: ${name}`)),
  );
}

describe("what nothing uses", () => {
  it("is in no page, route or command: files and packages", async () => {
    expect(await findUnused(ROOT, "--production", "--include", "files,dependencies,unlisted,unresolved")).toEqual([]);
  });

  it("is in no file at all, tests included: files, packages, exports", async () => {
    expect(await findUnused(ROOT)).toEqual([]);
  });

  it("is seen where it is", async () => {
    const write = (name: string, text: string): void => {
      mkdirSync(path.dirname(path.join(folder, name)), { recursive: true });
      writeFileSync(path.join(folder, name), text);
    };
    write("package.json", JSON.stringify({ name: "sample", type: "module", dependencies: { "left-over": "1.0.0" } }));
    write("lib/cli/serve.ts", 'import { used } from "../core/sum";\nimport "not-listed";\nused();\n');
    write("lib/core/sum.ts", "export const used = () => 1;\nexport const unused = () => 2;\n");
    write("lib/core/forgotten.ts", "export const a = 1;\n");
    write("lib/core/tested.ts", "export const b = 1;\n");
    write("tests/core/tested.test.ts", 'import { b } from "../../lib/core/tested";\nb;\n');
    cpSync(path.join(ROOT, "tests/rules/knip.json"), path.join(folder, "tests/rules/knip.json"), { recursive: true });
    const found = (await findUnused(folder)).join("\n");
    expect(found).toMatch(/files .*forgotten\.ts/);
    expect(found).toMatch(/exports lib\/core\/sum\.ts: unused/);
    expect(found).toMatch(/dependencies package\.json: left-over/);
    expect(found).toMatch(/unlisted lib\/cli\/serve\.ts: not-listed/);
    expect(await findUnused(folder, "--production")).toContainEqual(expect.stringMatching(/files .*tested\.ts/));
  });
});
