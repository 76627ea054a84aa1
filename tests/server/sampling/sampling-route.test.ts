import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/sampling/route";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { expectDigits } from "../../helpers/expect-digits";
import { createTestPlant } from "../../helpers/plant";
import oc from "../../reference/sampling-oc.json";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
const tokens = { reads: "", asks: "", writes: "" };
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const administrator = await (await createTestPlant({ frames: 1 })).as("administrator");
  const make = async (name: string, scope: "results:read" | "gate:read" | "readings:write") =>
    (await createToken(administrator, { name, scopes: [scope] })).token;
  tokens.reads = await make("reads", "results:read");
  tokens.asks = await make("asks", "gate:read");
  tokens.writes = await make("writes", "readings:write");
});
afterAll(async () => database.drop());

async function ask(body: unknown, token = tokens.reads) {
  const request = new Request("http://localhost:3000/api/v1/sampling", {
    method: "POST",
    headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
    body: typeof body === "string" ? body : JSON.stringify(body),
  });
  const response = await POST(request, { params: Promise.resolve({}) });
  return { status: response.status, body: await response.json() };
}
const attributes = { scheme: "iso-2859-1", lot: 1000, level: "II", aql: 1, severity: "normal" };

describe("POST /api/v1/sampling", () => {
  it("gives a plan by attributes with the exact curve of its lot", async () => {
    const { status, body } = await ask({ ...attributes, p: [0, 0.02, 1] });
    expect(status).toBe(200);
    expect(body).toMatchObject({ code: "J", n: 80, ac: 2, re: 3, k: null, distribution: "hypergeometric" });
    const { pa_hyper: pa, pa_binom: paSeries } = oc.cases.find(({ id }) => id === "hypergeometric")!.expected as never;
    expect(body.oc.map(({ p }: { p: number }) => p)).toEqual([0, 0.02, 1]);
    expectDigits(body.oc[1].pa, pa, 11);
    expectDigits(body.oc[1].paSeries, paSeries, 11);
    // By definition: 0.02 * Pa * (1000 - 80) / 1000.
    expectDigits(body.oc[1].aoq, 0.02 * pa * 0.92, 11);
    expect([body.oc[0].pa, body.oc[2].pa]).toEqual([1, 0]);
    expect(body.words[0]).toBe(
      "Draw 80 of 1000 frames at random; accept with 2 nonconforming frames or fewer, refuse with 3 or more. Not proven counts as nonconforming.",
    );
  });

  it("says how weak a small plan is: 13/0 misses a 10 % bad lot of 50 one time in five", async () => {
    const { body } = await ask({ ...attributes, lot: 50, p: [0.1] }, tokens.asks);
    expect(body).toMatchObject({ code: "D", usedCode: "E", n: 13, ac: 0, re: 1 });
    // 45 * 44 ... 33 over 50 * 49 ... 38, counted.
    expectDigits(body.oc[0].pa, 0.2057, 3);
    expect(body.words).toContain("Letter D has no plan of its own here: the plan of letter E is used.");
    expect(body.words.join(" ")).toMatch(/is still accepted 10(\.0)? % of the time/);
  });

  // ISO 2859-1:1999 clause 9, from memory: two refused lots of five tighten; letter J tightened has 1/2 at AQL 1.
  it("chooses the severity by the lots before", async () => {
    const history = [3, 0, 3].map((nonconforming) => ({ lot: 1000, nonconforming }));
    const { body } = await ask({ ...attributes, history });
    expect(body).toMatchObject({ severity: "tightened", n: 80, ac: 1, switching: { severity: "tightened" } });
    expect(body.words[1]).toContain("Earlier lots lead to tightened inspection");
    expect((await ask(attributes)).body).toMatchObject({ severity: "normal", switching: null });
    const ended = [...history, ...history, ...history, ...history, ...history];
    expect((await ask({ ...attributes, history: ended })).body.words[1]).toContain("accept none by sampling");
  });

  // ISO 3951:1989 and ISO 3951-1:2005, see sampling-variables.source.md.
  it("gives plans by variables, standard deviation unknown and known", async () => {
    const variables = { scheme: "iso-3951-1", lot: 100, level: "II", aql: 2.5, severity: "normal", p: [0.025] };
    expect((await ask({ ...variables, method: "s" })).body).toMatchObject({ code: "F", n: 10, k: 1.41, ac: null });
    const sigma = await ask({ ...variables, lot: 500, aql: 1.5, method: "sigma" });
    expect(sigma.body).toMatchObject({ code: "H", n: 12, k: 1.613, re: null, distribution: "normal" });
    for (const severity of ["tightened", "reduced"])
      expect((await ask({ ...variables, method: "s", severity })).status).toBe(200);
  });

  it("gives zero-acceptance plans by the lot's tolerance", async () => {
    const { body } = await ask({ scheme: "zero-acceptance", lot: 50, index: 10 });
    // Smallest n with (45 ... )/(50 ...) of at most 0.1, counted: 18.
    expect(body).toMatchObject({ code: null, n: 18, ac: 0, re: 1, k: null });
    expect(body.oc).toHaveLength(41);
    expect(body.risks.consumer.p).toBe(0.1);
    expect(body.risks.consumer.risk).toBeLessThanOrEqual(0.1);
  });

  it.each([
    [{ ...attributes, history: [{ lot: 1, nonconforming: 0 }] }, "history, number 1, lot: must be 2 or more"],
    [{ ...attributes, lot: 1 }, "lot: must be 2 or more: of a lot of one nothing can be drawn, measure it"],
    [{ ...attributes, lot: 2.5 }, "lot: must be a whole number"],
    [{ ...attributes, lot: "100" }, "lot: must be a number"],
    [{ ...attributes, aql: 3 }, "aql: must be a preferred AQL: 3 lies between 2.5 and 4, take one of them"],
    [{ ...attributes, aql: 0.001 }, "aql: must be a preferred AQL from 0.01 to 1000 percent"],
    [{ ...attributes, level: "IV" }, "level: must be one of: S-1, S-2, S-3, S-4, I, II, III"],
    [{ ...attributes, severity: "strict" }, "severity: must be one of: normal, tightened, reduced"],
    [{ ...attributes, p: [0.1, 1.5] }, "p, number 2: must be from 0 to 1"],
    [{ ...attributes, p: ["a"] }, "p, number 1: must be a number"],
    [{ ...attributes, p: Array.from({ length: 501 }, () => 0) }, "p: must have at most 500 fractions"],
    [{ ...attributes, scheme: "mil" }, "must be one of: iso-2859-1, iso-3951-1, zero-acceptance"],
    [{ ...attributes, extra: 1 }, "has what is not asked for: extra"],
    [{ scheme: "iso-3951-1", lot: 100, aql: 15 }, "aql: must be a preferred AQL from 0.1 to 10 percent"],
    [{ scheme: "iso-3951-1", lot: 100, aql: 1, level: "S-1" }, "level: must be S-3, S-4, I, II or III"],
    [{ scheme: "iso-3951-1", lot: 100, aql: 1, method: "r" }, "method: must be one of: s, sigma"],
    [{ scheme: "zero-acceptance", lot: 50, index: 0 }, "index: must be over 0 percent"],
    [{ scheme: "zero-acceptance", lot: 50 }, "index: must be given"],
    [[], ""],
    ["{", ""],
    [null, ""],
  ])("refuses %j in words", async (body, words) => {
    const answer = await ask(body);
    expect(answer.status).toBe(400);
    expect(answer.body.detail).toContain(words);
  });

  it("answers at the edges of its tables within a moment", async () => {
    for (const lot of [2, 3, 1e9])
      for (const scheme of [
        { scheme: "iso-2859-1", aql: 0.01 },
        { scheme: "iso-2859-1", aql: 1000, severity: "reduced" },
        { scheme: "iso-3951-1", aql: 0.1, severity: "tightened", level: "III" },
        { scheme: "iso-3951-1", aql: 10, method: "sigma" },
        { scheme: "zero-acceptance", index: 0.0001 },
        { scheme: "zero-acceptance", index: 100 },
      ]) {
        const { status, body } = await ask({ ...scheme, lot });
        expect([scheme, lot, status]).toEqual([scheme, lot, 200]);
        expect(body.n).toBeLessThanOrEqual(lot);
        expect(JSON.stringify(body.oc)).not.toContain('null,"aoq"');
      }
  });

  it("is nothing for a token that only writes readings", async () => {
    expect((await ask(attributes, tokens.writes)).status).toBe(403);
  });
});
