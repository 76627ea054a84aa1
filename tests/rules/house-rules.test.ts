import { readdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { FRAME_STATES } from "@/lib/quality/frame-state";
import { importsOf, readSourceFiles, readStyleSheets, ROOT, type SourceFile } from "./source-files";

const files = readSourceFiles("lib", "app");
const tests = readSourceFiles("tests");
const styleSheets = readStyleSheets("lib", "app");

const NAMELESS = /(^|\/)(utils?|helpers?|common|misc|types)(\/|\.tsx?$|$)/;
const namelessFiles = (list: readonly SourceFile[]): string[] =>
  list.map((file) => file.path).filter((file) => NAMELESS.test(file));

const barrels = (list: readonly SourceFile[]): string[] =>
  list.map((file) => file.path).filter((file) => /(^|\/)index\.tsx?$/.test(file));

const prismaOutside = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => !file.path.startsWith("lib/server/") && !file.path.startsWith("lib/cli/"))
    .filter((file) =>
      importsOf(file).some(
        ({ specifier, target }) => /^@?prisma(\/|$)/.test(specifier) || (target?.includes("db/generated") ?? false),
      ),
    )
    .map((file) => file.path);

/** The start command and its steps set the environment; the programs read it through lib/server/base/env.ts. */
const ENVIRONMENT_READERS = /^lib\/(server\/base\/env\.ts|cli\/)/;
const environmentReaders = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => !ENVIRONMENT_READERS.test(file.path) && /\bprocess\.env\b/.test(file.text))
    .map((file) => file.path);

const serverFilesWithoutGuard = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => /^lib\/server\/.*\.ts$/.test(file.path))
    .filter((file) => !/^\s*import "server-only";/m.test(file.text))
    .map((file) => file.path);

/** The process's pulse: reads nothing, changes nothing, and is the floor that other routes are measured against. */
const BARE_ROUTE = "app/api/v1/alive/route.ts";

/** Actions and routes are public doors: only the wrappers make them. */
function doorsWithoutWrapper(list: readonly SourceFile[]): string[] {
  return list.flatMap((file) => {
    if (/^app\/.*\/actions\.ts$/.test(file.path))
      return [...file.text.matchAll(/export const (\w+) = (\w+)/g)]
        .filter((match) => !/^define(Public)?Action$/.test(match[2] ?? ""))
        .map((match) => `${file.path}: ${match[1]}`);
    if (/^app\/.*\/route\.ts$/.test(file.path) && file.path !== BARE_ROUTE)
      return [...file.text.matchAll(/export (?:const|(?:async )?function) (GET|POST|PUT|PATCH|DELETE)\b(?: = (\w+))?/g)]
        .filter((match) => match[2] !== "defineRoute")
        .map((match) => `${file.path}: ${match[1]}`);
    return [];
  });
}

function repeatedBrands(list: readonly SourceFile[]): string[] {
  const seen = new Map<string, string>();
  const repeated: string[] = [];
  for (const file of list)
    for (const match of file.text.matchAll(/__brand:\s*"([^"]+)"|Brand<[^,>]+,\s*"([^"]+)">/g)) {
      const brand = match[1] ?? match[2] ?? "";
      if (seen.has(brand)) repeated.push(`${brand}: ${seen.get(brand)} and ${file.path}`);
      seen.set(brand, file.path);
    }
  return repeated;
}

const FRAME_STATE_DOOR = "lib/quality/frame-state.ts";
const A_STATE = `["'](?:${FRAME_STATES.join("|")})["']`;
/** Two or more states of a frame in one list, of TypeScript or SQL (no call with two words), or in one chain of comparisons. */
const STATE_LIST = new RegExp(`(?:\\[|(?<!\\w)\\()\\s*${A_STATE}(?:\\s*,\\s*${A_STATE})+`);
const STATE_CHAIN = new RegExp(
  `state ={1,3} ${A_STATE}\\s*(?:\\|\\||or)\\s*[\\w.]*state ={1,3} ${A_STATE}|state !==? ${A_STATE}\\s*&&\\s*[\\w.]*state !==? ${A_STATE}`,
);
/** Lists beside the door's have to be kept in step with it by hand, and are not. */
const stateLists = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => file.path !== FRAME_STATE_DOOR)
    .filter((file) => STATE_LIST.test(file.text) || STATE_CHAIN.test(file.text))
    .map((file) => file.path);

/** A moment in a sentence by another clock than the plant's; a name of a file, an array of SQL and days without a clock are none. */
const OTHER_CLOCK =
  /\$\{[^}`]*toISOString\(\)\s*(?:\?\?[^}]*)?\}|resolvedOptions\(\)\.timeZone|\.toLocale(?:Date|Time)?String\(/;
const CLOCK_DOORS =
  /^lib\/(?:format\/|simulation\/|schemas\/time-zone)|^lib\/server\/inspections\/recording-writes\.ts$/;
const otherClocks = (list: readonly SourceFile[]): string[] =>
  list.filter((file) => !CLOCK_DOORS.test(file.path) && OTHER_CLOCK.test(file.text)).map((file) => file.path);

/** Numbers for people are rounded by lib/format, those that stay numbers by one file; scripts run before anything is compiled. */
const ROUNDING_DOORS = /^lib\/format\/|^lib\/core\/numerics\/decimal-digits\.ts$|^lib\/cli\/[^/]+\.mjs$/;
const ownRoundings = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => !ROUNDING_DOORS.test(file.path) && /\.to(?:Fixed|Precision)\(/.test(file.text))
    .map((file) => file.path);

/** What a feature is stands in its row of core/metrology/features.ts; nobody reads it out of the name. */
const featureParsers = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) =>
      /\bfeature(?:Name)?\.(?:split|startsWith|endsWith|includes|slice|match|replace)\(/.test(file.text),
    )
    .map((file) => file.path);

const TOKENS = "app/styles/tokens.css";
const SPACING =
  /(?:^|[;{])\s*((?:(?:scroll-)?(?:margin|padding)|inset)(?:-[a-z]+){0,2}|(?:row-|column-)?gap|top|right|bottom|left|text-indent|border-spacing|border(?:-(?:top|right|bottom|left))?(?:-width)?):\s*([^;}]*\d(?:px|rem)\b[^;}]*)/gm;
/** Distances and lines are steps of one scale; what is a length of its own gets a name in the tokens. */
const ownDistances = (list: readonly SourceFile[]): string[] =>
  list
    .filter((file) => file.path !== TOKENS)
    .flatMap((file) => [...file.text.matchAll(SPACING)].map((match) => `${file.path}: ${match[1]}: ${match[2]}`));

function referenceFiles(): string[] {
  return readdirSync(path.join(ROOT, "tests/reference"))
    .filter((name) => name.endsWith(".json"))
    .sort();
}
const unloadedFixtures = (names: readonly string[], list: readonly SourceFile[]): string[] =>
  names.filter(
    (name) =>
      !list.some(
        (file) =>
          file.text.includes(`reference/${name}`) ||
          file.text.includes(`"${name}"`) ||
          file.text.includes(`"${name.replace(".json", "")}"`),
      ),
  );
const fixturesWithoutSource = (names: readonly string[], present: ReadonlySet<string>): string[] =>
  names.filter((name) => !present.has(name.replace(".json", ".source.md")));

describe("house rules", () => {
  it("every folder and file names its subject", () => {
    expect(namelessFiles(files)).toEqual([]);
  });
  it("there is no barrel", () => {
    expect(barrels(files)).toEqual([]);
  });
  it("only lib/server touches Prisma", () => {
    expect(prismaOutside(files)).toEqual([]);
  });
  it("the environment is read in one place", () => {
    expect(environmentReaders(files)).toEqual([]);
  });
  it("every file of lib/server is kept out of browsers", () => {
    expect(serverFilesWithoutGuard(files)).toEqual([]);
  });
  it("actions and routes are made by their wrappers", () => {
    expect(doorsWithoutWrapper(files)).toEqual([]);
  });
  it("each brand string is unique", () => {
    expect(repeatedBrands(files)).toEqual([]);
  });
  it("states of a frame are listed in one place", () => {
    expect(stateLists(files)).toEqual([]);
  });
  it("moments are said by the plant's clock, through lib/format", () => {
    expect(otherClocks(files)).toEqual([]);
  });
  it("numbers are rounded in one place", () => {
    expect(ownRoundings(files)).toEqual([]);
  });
  it("nobody parses the name of a feature", () => {
    expect(featureParsers(files)).toEqual([]);
  });
  it("distances and lines are tokens", () => {
    expect(styleSheets.length).toBeGreaterThan(0);
    expect(ownDistances(styleSheets)).toEqual([]);
  });
  it("every reference file is loaded by a test and says where it is from", () => {
    const names = referenceFiles();
    const present = new Set(readdirSync(path.join(ROOT, "tests/reference")));
    expect(names.length).toBeGreaterThan(0);
    expect(unloadedFixtures(names, tests)).toEqual([]);
    expect(fixturesWithoutSource(names, present)).toEqual([]);
  });
  it("no test is skipped or left alone", () => {
    const marked = tests.filter((file) =>
      /\b(it|test|describe)\.(skip|only|todo)\b/.test(file.text.replaceAll(/"[^"]*"|\/[^/\n]+\//g, "")),
    );
    expect(marked.map((file) => file.path)).toEqual([]);
  });

  it("each rule sees a sample that breaks it", () => {
    const sample = (at: string, text = ""): SourceFile[] => [{ path: at, text }];
    expect(namelessFiles(sample("lib/core/utils/sum.ts"))).toHaveLength(1);
    expect(namelessFiles(sample("lib/quality/types.ts"))).toHaveLength(1);
    expect(barrels(sample("lib/ui/index.ts"))).toHaveLength(1);
    expect(prismaOutside(sample("app/gate/page.tsx", 'import { PrismaClient } from "@prisma/client";'))).toHaveLength(
      1,
    );
    expect(
      prismaOutside(sample("app/gate/page.tsx", 'import { PrismaClient } from "@/lib/server/db/generated/client";')),
    ).toHaveLength(1);
    expect(
      environmentReaders(sample("lib/server/gate/queries.ts", "const url = process.env.DATABASE_URL;")),
    ).toHaveLength(1);
    expect(serverFilesWithoutGuard(sample("lib/server/gate/queries.ts", "export const a = 1;"))).toHaveLength(1);
    expect(
      doorsWithoutWrapper(sample("app/gate/actions.ts", "export const signAction = async () => {};")),
    ).toHaveLength(1);
    expect(doorsWithoutWrapper(sample("app/api/v1/x/route.ts", "export async function GET() {}"))).toHaveLength(1);
    expect(
      repeatedBrands([...sample("lib/core/a.ts", '__brand: "mm"'), ...sample("lib/core/b.ts", '__brand: "mm"')]),
    ).toHaveLength(1);
    expect(stateLists(sample("lib/server/a.ts", 'const GONE = new Set(["scrapped", "returned"]);'))).toHaveLength(1);
    expect(stateLists(sample("lib/server/a.ts", "where f.state not in ('shipped', 'scrapped')"))).toHaveLength(1);
    expect(stateLists(sample("app/a.tsx", 'frame.state === "held" || frame.state === "measured"'))).toHaveLength(1);
    expect(otherClocks(sample("lib/server/a.ts", "`shipped on ${frame.at.toISOString()}`"))).toHaveLength(1);
    expect(otherClocks(sample("app/a.tsx", "Intl.DateTimeFormat().resolvedOptions().timeZone"))).toHaveLength(1);
    expect(otherClocks(sample("app/a.tsx", "new Date(at).toLocaleString()"))).toHaveLength(1);
    expect(ownRoundings(sample("lib/quality/a.ts", "`${value.toFixed(3)} mm`"))).toHaveLength(1);
    expect(ownRoundings(sample("app/a.tsx", "share.toPrecision(3)"))).toHaveLength(1);
    expect(featureParsers(sample("lib/quality/a.ts", 'if (feature.endsWith("tilt")) return null;'))).toHaveLength(1);
    expect(ownDistances(sample("app/a.module.css", ".a {\n  padding: 0 13px;\n}"))).toHaveLength(1);
    expect(ownDistances(sample("app/a.module.css", ".a { margin-top: -0.5rem }"))).toHaveLength(1);
    expect(ownDistances(sample("app/a.module.css", ".a { top: calc(var(--s1) + 3px); gap: 5px }"))).toHaveLength(2);
    expect(ownDistances(sample("app/a.module.css", ".a { border-top: 3px solid }"))).toHaveLength(1);
    expect(ownDistances(sample("app/a.module.css", ".a { width: 9px; padding: var(--s2) 0; margin: 0.3em }"))).toEqual(
      [],
    );
    expect(unloadedFixtures(["forgotten.json"], sample("tests/core/a.test.ts", "nothing"))).toHaveLength(1);
    expect(fixturesWithoutSource(["forgotten.json"], new Set(["forgotten.json"]))).toHaveLength(1);
  });

  it("the top level holds what it may hold", () => {
    const allowed = new Set([
      ...[
        "app",
        "prisma",
        "lib",
        "tests",
        "public",
        "README.md",
        "DEVELOPERS.md",
        "package.json",
        "package-lock.json",
        "tsconfig.json",
      ],
      ...[
        "next.config.ts",
        "proxy.ts",
        "instrumentation.ts",
        "prisma.config.ts",
        "vitest.config.ts",
        "eslint.config.mjs",
      ],
      ...[".ci", ".git", ".gitignore", ".prettierignore", ".npmrc"],
      ...["node_modules", ".next", ".data", "next-env.d.ts", "tsconfig.tsbuildinfo"],
    ]);
    expect(readdirSync(ROOT).filter((name) => !allowed.has(name) && !/^\.env/.test(name))).toEqual([]);
  });

  it("no lock file or setting names a registry", () => {
    const lock = readFileSync(path.join(ROOT, "package-lock.json"), "utf8");
    expect(lock).not.toMatch(/"resolved":\s*"https?:/);
  });
});
