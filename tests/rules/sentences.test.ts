import { describe, expect, it } from "vitest";
import { VERDICTS } from "@/lib/quality/verdict-words";
import { readSourceFiles, type SourceFile } from "./source-files";

/** Codes that have a space and are kept, sent or compared as they are: lib/format and the screens say them. */
const CODES = new Set<string>([
  ...VERDICTS,
  ...["face run-out", "will not pass", "runs free", "bivariate normal", "being computed"],
  ...["shift start", "after a knock", "batch end", "reamer changed", "fixture shimmed", "at once"],
  ...["retaining compound", "none needed", "not possible", "not estimable"],
  // Tests, causes, reasons and settling measurements of cases: case-words.ts says them.
  ...["slow sum", "fast sum", "also moved", "own: \u0000"],
  ...["reamer worn", "fixture moved", "paint in the bore", "material lot", "sweep mandrel", "clamping distortion"],
  ...["loose gauge", "warm part", "moved alike", "spared stream moved", "does not fit", "oval stays", "began with"],
  ...["only with", "no change of", "not after paint", "zero check", "frames between", "often before"],
  ...["zero check or other gauge", "turned on the mandrel", "before machining or other fixture"],
  ...["five times by two people", "one frame of the old lot", "both temperatures", "same frame after machining"],
]);

const COMMENTS = /\/\*[\s\S]*?\*\/|(?<=^|\s)\/\/[^\n]*/g;
/** What a fault of the program says is read by who mends it. */
const FAULTS = /new (?:Core)?Error\((?:[^()]|\([^()]*\))*\)/g;
/** Names of drawings and materials are entered by people and kept with the plant. */
const NAMES = /\b(?:title|name): "[^"\n]*"/g;
const NAME_FILES = /^lib\/quality\/(?:demonstration-drawings|shell-templates)\.ts$/;
const IMPORTS = /\b(?:import|export)\b[^;]*?\bfrom "[^"\n]*"/g;

const STRING = /"((?:[^"\\\n]|\\.)*)"/g;
/** What a template has in its braces, and a template without any. */
const BRACES = /\$\{([^{}`]*)\}/g;
const TEMPLATE = /`((?:[^`\\$]|\\.|\$(?!\{))*)`/g;
const GAP = "\u0000";
/** A word beside a space: a clause, a unit, or a piece of one. */
const WORDS = /\p{L}{2,}[,;:.]? | \p{L}{2,}/u;

/** Strings of a file that are words for people. */
function sentencesIn({ path, text }: SourceFile): string[] {
  let code = text.replace(COMMENTS, "").replace(FAULTS, "").replace(IMPORTS, "");
  if (NAME_FILES.test(path)) code = code.replace(NAMES, "");
  const found: string[] = [];
  const take = (pattern: RegExp, from: string): string =>
    from.replace(pattern, (_all, piece: string) => {
      found.push(piece);
      return GAP;
    });
  // From the innermost outwards: a template that stands in the braces of another one is looked at for itself.
  for (let before = ""; before !== code;) {
    before = code;
    code = take(
      TEMPLATE,
      code.replace(BRACES, (_all, inside: string) => (take(STRING, inside), GAP)),
    );
  }
  take(STRING, code);
  return found
    .filter((piece) => WORDS.test(piece) && !CODES.has(piece))
    .map((piece) => `${path}: ${piece.replaceAll(GAP, "…")}`);
}

const wordsIn = (list: readonly SourceFile[]): string[] => list.flatMap(sentencesIn);

describe("words for people", () => {
  it("are not made in lib/quality", () => {
    const files = readSourceFiles("lib/quality");
    expect(files.length).toBeGreaterThan(40);
    expect(wordsIn(files)).toEqual([]);
  });

  it("are seen where they are", () => {
    const sample = (text: string): string[] => wordsIn([{ path: "lib/quality/a.ts", text }]);
    expect(sample('return { reason: "no gauge named" };')).toHaveLength(1);
    expect(sample("const why = `gauge ${key} (${principle}) cannot measure ${KIND[kind]}`;")).toHaveLength(1);
    expect(sample("const u = `${um} µm`;")).toHaveLength(1);
    expect(sample("const all = `${many ? `${count} frames` : one}: ${list.join(`, `)}`;")).not.toEqual([]);
    expect(sample('const all = `${a}${isLarge ? "too large" : ""}`;')).toEqual(["lib/quality/a.ts: too large"]);
    expect(sample('const verdict = "not proven"; const key = `${rule} ${side}`;')).toEqual([]);
    expect(sample('/** "no gauge named" */ throw new Error(`must not be ${state}; see above`);')).toEqual([]);
    expect(sample('const drawing = { title: "Press fit 41, composite" };')).toHaveLength(1);
  });
});
