import { describe, expect, it } from "vitest";
import { slowParts, slowPatterns } from "./slow-patterns";
import { readSourceFiles } from "./source-files";

describe("patterns", () => {
  it("take time in proportion to their text", () => {
    expect(slowPatterns(readSourceFiles("lib", "app"))).toEqual([]);
  });

  it.each([
    ["^(a+)+$", ""],
    ["^(?:[a-z]+\\s?)*$", ""],
    ["^(?:a|b+)*c", ""],
    ["^(.*?)(\\d+)$", ""],
    ["^\\s*(?:\\w+\\s*)?\\s*$", ""],
    ["\\s+$", ""],
    ["(?:x|-+$)", ""],
    ["^\\s*import", "m"],
    ["^[\\d ]{0,500}\\s{0,500}$", ""],
    ["^\\p{L}+[a-z]*$", "u"],
  ])("a slow one is found: /%s/%s", (source, flags) => {
    expect(slowParts(source, flags)).not.toEqual([]);
  });

  it.each([
    ["^[a-z]+(?:-[a-z]+)*$", ""],
    ["^(?:[^,]+,)*$", ""],
    ["^(\\d*)(?:[.,](\\d*))?$", ""],
    ["[^a-z0-9]+", "g"],
    ["^\\s*import", ""],
    ["^[A-Za-z0-9._-]{2,40}$", ""],
  ])("a quick one passes: /%s/%s", (source, flags) => {
    expect(slowParts(source, flags)).toEqual([]);
  });

  it("are found wherever they are written, put together too", () => {
    const text = [
      "const schema = z.string().regex(/^(a+)+$/);",
      'const one = new RegExp("\\\\s+$", "g");',
      "const two = new RegExp(`^(?:${part}+)+$`);",
      "const three = RegExp(someText);",
    ].join("\n");
    expect(slowPatterns([{ path: "lib/schemas/sample.ts", text }]).map((one) => one.slice(0, 25))).toEqual([
      "lib/schemas/sample.ts:1: ",
      "lib/schemas/sample.ts:2: ",
      "lib/schemas/sample.ts:3: ",
      "lib/schemas/sample.ts:4: ",
    ]);
  });
});
