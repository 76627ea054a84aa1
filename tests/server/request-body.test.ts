import { describe, expect, it } from "vitest";
import { AppError } from "@/lib/errors";
import { parseJson, readJsonBody } from "@/lib/server/base/request-body";

const SIDE = 500_000;
/** Two megabytes each, and nearly nothing but brackets or names. */
const HOSTILE: Readonly<Record<string, string>> = {
  "inside one another": "[".repeat(2 * SIDE) + "]".repeat(2 * SIDE),
  "inside one another, never closed": "[".repeat(4 * SIDE),
  "inside one another, in one of many inspections": `{"inspections":[${"[".repeat(2 * SIDE)}${"]".repeat(2 * SIDE)}]}`,
  "objects inside one another": `${'{"a":'.repeat(SIDE)}1${"}".repeat(SIDE)}`,
  "side by side": `[${Array(SIDE).fill("[]").join()}]`,
  "names side by side, in objects": `[${Array.from({ length: SIDE / 1000 }, (_, at) => `{${Array.from({ length: 300 }, (_, name) => `"k${at}-${name}":1`).join()}}`).join()}]`,
  "words that none of a list may be": `{"states":[${Array(SIDE).fill('"zz"').join()}]}`,
  "names side by side": `{${Array.from({ length: SIDE / 3 }, (_, at) => `"k${at}":{}`).join()}}`,
};

const asRequest = (body: string): Request =>
  new Request("http://localhost/", { method: "POST", headers: { "content-type": "application/json" }, body });

async function refusalOf(body: string): Promise<AppError | null> {
  try {
    await readJsonBody(asRequest(body), 8 * 2 ** 20);
    return null;
  } catch (error) {
    if (error instanceof AppError) return error;
    throw error;
  }
}

/** Shortest of some runs, ms. */
async function shortest(work: () => unknown): Promise<number> {
  const times: number[] = [];
  for (let run = 0; run < 3; run += 1) {
    const from = performance.now();
    await work();
    times.push(performance.now() - from);
  }
  return Math.min(...times);
}

describe("a JSON body of brackets", () => {
  it.each(Object.keys(HOSTILE))(
    "is refused in words, sooner than plain numbers of its size are read: %s",
    async (name) => {
      const body = HOSTILE[name] ?? "";
      const refused = await refusalOf(body);
      expect(refused?.code).toMatch(/^(?:invalid-input|too-large)$/);
      expect(refused?.userMessage).toMatch(/(?:lists.*objects|named members|A list).*Nothing was kept; send/);
      const numbers = `[${Array(2 * SIDE)
        .fill("1")
        .join()}]`;
      const floor = await shortest(() => parseJson(new TextEncoder().encode(numbers)));
      // Read by JSON.parse they took 5 to 15 times as long.
      expect(await shortest(() => refusalOf(body))).toBeLessThan(2 * floor);
    },
  );

  it("does not count what stands inside texts, escaped quotes included", () => {
    const text = `${'\\"[{:'.repeat(300_000)}\\\\`;
    expect(parseJson(new TextEncoder().encode(`["${text}", "\\\\", [1]]`))).toHaveLength(3);
  });

  it("takes what is deep and long enough for anything that is asked for", () => {
    const nested = `${"[".repeat(64)}${"]".repeat(64)}`;
    expect(() => parseJson(new TextEncoder().encode(nested))).not.toThrow();
    expect(() => parseJson(new TextEncoder().encode(`[${nested}]`))).toThrow(AppError);
  });

  it.each(["", "{", "]", "[1,", '{"a', '"\\', "\u0000", "]]]]["])("is still no JSON where it is none: %j", (body) => {
    expect(() => parseJson(new TextEncoder().encode(body))).toThrow(/Nothing was kept/);
  });
});
