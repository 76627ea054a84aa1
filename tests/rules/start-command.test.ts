import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { importsOf, readSourceFiles, ROOT, type SourceFile } from "./source-files";

/** Commands that install the packages themselves, when they are missing. */
const BEFORE_PACKAGES = [
  "lib/cli/start.mjs",
  "lib/cli/run.mjs",
  "lib/cli/test.mjs",
  "lib/cli/test-long.mjs",
  "lib/cli/generate.mjs",
];

/** What only those who work on Shellgate run, with the packages that npm ci brings them. */
const DEVELOPERS = new Set([
  "lib/cli/new-migration",
  "lib/cli/compare-schema",
  "lib/cli/schema-engine",
  "lib/cli/test",
  "lib/cli/test-long",
]);

const withoutEnding = (file: string): string => file.replace(/\.(ts|tsx|mjs)$/, "");
const withoutDynamic = (file: SourceFile): SourceFile => ({
  ...file,
  text: file.text.replaceAll(/\bimport\(\s*["'][^"']+["']\s*\)/g, ""),
});

/** Packages that a command loads before it can have installed any: each file that it imports on the way. */
function packagesBeforeInstall(entries: readonly string[], files: readonly SourceFile[]): string[] {
  const byName = new Map(files.map((file) => [withoutEnding(file.path), withoutDynamic(file)]));
  const seen = new Set<string>();
  const found: string[] = [];
  const visit = (name: string): void => {
    if (seen.has(name)) return;
    seen.add(name);
    const file = byName.get(name);
    if (file === undefined) throw new Error(`${name} is not there`);
    for (const { specifier, target } of importsOf(file)) {
      if (target !== null) visit(target);
      else if (!specifier.startsWith("node:")) found.push(`${file.path} imports ${specifier}`);
    }
  };
  for (const entry of entries) visit(withoutEnding(entry));
  return found;
}

const packageOf = (specifier: string): string =>
  specifier
    .split("/")
    .slice(0, specifier.startsWith("@") ? 2 : 1)
    .join("/");

/** What a plant would need and `npm ci --omit=dev` does not install. */
function packagesOfDevelopers(files: readonly SourceFile[], installed: ReadonlySet<string>): string[] {
  return files
    .filter((file) => !DEVELOPERS.has(withoutEnding(file.path)))
    .flatMap((file) =>
      importsOf(file)
        .filter(({ typeOnly }) => !typeOnly)
        .filter(({ specifier, target }) =>
          target === null
            ? !specifier.startsWith("node:") && !installed.has(packageOf(specifier))
            : DEVELOPERS.has(target),
        )
        .map(({ specifier }) => `${file.path} imports ${specifier}`),
    );
}

describe("what is run before packages are there", () => {
  const files = readSourceFiles("lib", "app");
  const roots = ["instrumentation.ts", "proxy.ts", "next.config.ts", "prisma.config.ts"].map((name) => ({
    path: name,
    text: readFileSync(path.join(ROOT, name), "utf8"),
  }));
  const { dependencies } = JSON.parse(readFileSync(path.join(ROOT, "package.json"), "utf8")) as {
    dependencies: Record<string, string>;
  };

  it("needs none of them", () => {
    expect(packagesBeforeInstall(BEFORE_PACKAGES, files)).toEqual([]);
  });
  it("is seen where a file on the way imports one at its top", () => {
    const samples = [
      { path: "lib/cli/start.mjs", text: 'import { build } from "./build.mjs";\nawait import("tsx/esm/api");' },
      { path: "lib/cli/build.mjs", text: 'import path from "node:path";\nimport { build } from "esbuild";' },
    ];
    expect(packagesBeforeInstall(["lib/cli/start.mjs"], samples)).toEqual(["lib/cli/build.mjs imports esbuild"]);
  });

  it("installs all that a plant runs", () => {
    expect(packagesOfDevelopers([...files, ...roots], new Set(Object.keys(dependencies)))).toEqual([]);
  });
  it("is seen where a plant would need what only developers have", () => {
    const samples = [
      { path: "lib/server/a.ts", text: 'import { test } from "vitest";\nimport type { B } from "b";' },
      { path: "lib/cli/b.ts", text: 'import { withEngine } from "./schema-engine";' },
      { path: "lib/cli/new-migration.ts", text: 'import { withEngine } from "./schema-engine";' },
    ];
    expect(packagesOfDevelopers(samples, new Set(["pg"]))).toEqual([
      "lib/server/a.ts imports vitest",
      "lib/cli/b.ts imports ./schema-engine",
    ]);
  });
});
