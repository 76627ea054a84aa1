import { readdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { readSourceFiles, ROOT, type SourceFile } from "./source-files";

const SKIPPED = /(^|\/)(node_modules|generated)\//;

function filesBelow(folder: string, ending: RegExp): string[] {
  return readdirSync(path.join(ROOT, folder), { recursive: true, encoding: "utf8" })
    .map((name) => path.posix.join(folder, name.replaceAll(path.sep, "/")))
    .filter((name) => ending.test(name) && !SKIPPED.test(name));
}

const readAll = (names: readonly string[]): SourceFile[] =>
  names.map((name) => ({ path: name, text: readFileSync(path.join(ROOT, name), "utf8") }));

/** Pages that a comment sends its reader to and that the repository does not have. */
function pagesThatAreNowhere(files: readonly SourceFile[], present: ReadonlySet<string>): string[] {
  return files.flatMap((file) =>
    file.text
      .split("\n")
      .flatMap((line, index) =>
        [...line.matchAll(/[\w.-]+\.md\b/g)]
          .filter(([name]) => !present.has(name))
          .map(([name]) => `${file.path}:${index + 1}: ${name}`),
      ),
  );
}

describe("pages that are named", () => {
  const own = "tests/rules/written-sources.test.ts";
  const files = [
    ...readSourceFiles("lib", "app", "tests").filter((file) => file.path !== own),
    ...readAll(filesBelow("app", /\.css$/)),
    ...readAll(filesBelow("lib", /\.css$/)),
    ...readAll(filesBelow("prisma", /\.(prisma|sql)$/)),
    ...readAll(filesBelow("public", /\.js$/)),
    ...readAll(filesBelow("tests/reference", /\.(md|json)$/)),
    ...readAll(["README.md", "DEVELOPERS.md", "proxy.ts", "instrumentation.ts", "next.config.ts", "eslint.config.mjs"]),
  ];
  const present = new Set([
    "README.md",
    "DEVELOPERS.md",
    ...filesBelow("tests/reference", /\.md$/).map((name) => path.posix.basename(name)),
    // How the recipe of a reference data set names its second file.
    ".source.md",
    "TOPIC.source.md",
  ]);

  it("are in the repository", () => {
    expect(pagesThatAreNowhere(files, present)).toEqual([]);
  });
  it("are seen where they are not", () => {
    const sample = [
      { path: "lib/core/a.ts", text: "/** See README.md and design-page.md A13. */\nconst a = 1; // more.md" },
    ];
    expect(pagesThatAreNowhere(sample, present)).toEqual([
      "lib/core/a.ts:1: design-page.md",
      "lib/core/a.ts:2: more.md",
    ]);
  });
});
