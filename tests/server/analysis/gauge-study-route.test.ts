import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/gauge-studies/analysis/route";
import { createToken } from "@/lib/server/tokens/commands";
import { PRINTED } from "../../core/gauge-studies/gauge-study-cases";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { expectDigits } from "../../helpers/expect-digits";
import { createTestPlant } from "../../helpers/plant";
import { untilAnswered } from "../../helpers/until-answered";
import reference from "../../reference/gauge-studies.json";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let reader = "";
let writer = "";
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const administrator = await (await createTestPlant({ frames: 1 })).as("administrator");
  reader = (await createToken(administrator, { name: "reads", scopes: ["results:read"] })).token;
  writer = (await createToken(administrator, { name: "writes", scopes: ["readings:write"] })).token;
});
afterAll(async () => database.drop());

async function ask(body: unknown, token = reader) {
  const request = () =>
    new Request("http://localhost:3000/api/v1/gauge-studies/analysis", {
      method: "POST",
      headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
      body: JSON.stringify(body),
    });
  const response = await untilAnswered(() => POST(request(), { params: Promise.resolve({}) }));
  return { status: response.status, body: await response.json() };
}

const { cases } = reference as unknown as {
  cases: {
    input: Record<string, unknown>;
    expected: Record<string, number>;
    computed: Record<string, Record<string, number>>;
  }[];
};
const decision = (part: number, inspector: string, called: unknown, stands: unknown = null) => ({
  part,
  inspector,
  trial: 1,
  decision: called,
  reference: stands,
});

describe("POST /api/v1/gauge-studies/analysis", () => {
  it("gives the published study by analysis of variance, F under each denominator by its name", async () => {
    // Parts and trials may come as numbers.
    const readings = PRINTED.map((each) => ({ ...each, part: Number(each.part), trial: Number(each.trial) }));
    const { status, body } = await ask({ method: "anova", tolerance: 8, readings });
    expect(status).toBe(200);
    const sigma = (cases[1]?.computed.pooled as unknown as { sigma: Record<string, number> }).sigma;
    expectDigits(body.repeatability, sigma.EV ?? 0, 11);
    expectDigits(body.reproducibility, sigma.AV ?? 0, 11);
    expectDigits(body.part, sigma.PV ?? 0, 11);
    expectDigits(body.total, sigma.TV ?? 0, 11);
    expect([body.interaction, body.ndc]).toEqual([0, 4]);
    const f = cases[1]?.computed.F ?? {};
    expectDigits(body.f.interaction, f.inter_vs_equip ?? 0, 11);
    expect(body.f.denominator).toBe("pooled");
    expectDigits(body.f.inspector, f.op_vs_pooled ?? 0, 11);
    expectDigits(body.f.against.repeatability.part.f, f.part_vs_equip ?? 0, 11);
    expectDigits(body.f.against.interaction.inspector.f, f.op_vs_inter ?? 0, 11);
    // By definition: six sd of the tolerance 8.
    expectDigits(body.percentOfTolerance.gauge, (100 * 6 * (sigma.GRR ?? 0)) / 8, 11);
    expect(body.intervals.gauge[0]).toBeLessThan(body.gauge);
    expect(body.intervals.gauge[1]).toBeGreaterThan(body.gauge);
  });

  it("gives the published study by average and range", async () => {
    const { body } = await ask({ method: "average-and-range", tolerance: null, readings: PRINTED });
    const exact = cases[0]?.computed.with_exact_K ?? {};
    expectDigits(body.repeatability, exact.EV ?? 0, 9);
    expectDigits(body.reproducibility, exact.AV ?? 0, 9);
    expectDigits(body.total, exact.TV ?? 0, 9);
    expect([body.ndc, body.interaction, body.f, body.percentOfTolerance]).toEqual([5, null, null, null]);
  });

  it("gives bias, linearity and agreement", async () => {
    const single = cases[4];
    const x = single?.input.x as number[];
    const readings = x.map((value) => ({ reference: single?.input.ref, value }));
    const bias = await ask({ method: "bias", tolerance: single?.input.T, readings });
    expectDigits(bias.body.cg, single?.expected.cg ?? 0, 8);
    expectDigits(bias.body.cgk, single?.expected.cgk ?? 0, 8);
    const sizes = Object.entries(cases[3]?.input.readings_by_reference as Record<string, number[]>);
    const line = await ask({
      method: "linearity",
      tolerance: 10,
      readings: sizes.flatMap(([size, values]) => values.map((value) => ({ reference: Number(size), value }))),
    });
    expect(Math.abs(line.body.slope - (cases[3]?.expected.slope ?? 0))).toBeLessThan(5e-6);
    expect(Math.abs(line.body.intercept - (cases[3]?.expected.intercept ?? 0))).toBeLessThan(5e-6);
    expect(line.body.references).toHaveLength(5);
    const agreement = await ask({
      method: "agreement",
      decisions: [0, 1, 2, 3].flatMap((part) => [
        decision(part, "A", part < 2 ? "Go" : "no-go", part < 2 ? "go" : "no-go"),
        decision(part, "B", part < 3 ? "go" : "no-go", part < 2 ? "go" : "no-go"),
      ]),
    });
    // By hand: 3 of 4 alike; A says go 1/2, B 3/4: chance 1/2; kappa (3/4 - 1/2) / (1/2).
    expectDigits(agreement.body.cohen[0].kappa, 0.5, 12);
    expect(agreement.body.reference[0].kappa).toBe(1);
    expect(agreement.body.categories).toEqual(["go", "no-go"]);
  });

  it.each([
    [
      "missing cells",
      { method: "anova", readings: PRINTED.slice(1) },
      /Readings are missing: part 1, inspector A, trial 1/,
    ],
    [
      "one inspector",
      { method: "anova", readings: PRINTED.filter(({ inspector }) => inspector === "A") },
      /one inspector/,
    ],
    ["one trial", { method: "average-and-range", readings: PRINTED.filter(({ trial }) => trial === "1") }, /once only/],
    ["identical readings", { method: "anova", readings: PRINTED.map((each) => ({ ...each, value: 41 })) }, /are equal/],
    ["one reading of a ring", { method: "bias", readings: [{ reference: 41, value: 41 }] }, /once only/],
    [
      "one ring",
      { method: "linearity", readings: [1, 2, 3].map((value) => ({ reference: 41, value })) },
      /two references/,
    ],
    [
      "a decision without a second",
      { method: "agreement", decisions: [decision(1, "A", true), decision(2, "A", true)] },
      /once only/,
    ],
  ])("says why there is no answer: %s", async (_, body, reason) => {
    const answer = await ask(body);
    expect(answer).toMatchObject({ status: 200, body: { ok: false, reason: expect.stringMatching(reason) } });
  });

  it.each([
    ["a reading twice", { method: "anova", readings: [...PRINTED, PRINTED[0]] }, /twice: part 1, inspector A, trial 1/],
    ["a tolerance of nothing", { method: "anova", tolerance: 0, readings: PRINTED }, /over 0/],
    ["a text for a number", { method: "bias", readings: [{ reference: 41, value: "41,001" }] }, /must be a number/],
    ["an unknown method", { method: "guess", readings: [] }, /method/],
    [
      "a part that is both",
      { method: "agreement", decisions: [decision(1, "A", "go", "go"), decision(1, "B", "go", "no-go")] },
      /part 1 was go before/,
    ],
    [
      "more inspectors than can be compared with each other in time",
      {
        method: "agreement",
        decisions: Array.from({ length: 101 }, (_, who) => decision(1, `i${who}`, true)),
      },
      /at most 100 inspectors: each pair/,
    ],
  ])("refuses in words: %s", async (_, body, words) => {
    const answer = await ask(body);
    expect(answer.status).toBe(400);
    expect(JSON.stringify(answer.body)).toMatch(words);
  });

  it("answers who may look at gauges", async () => {
    expect((await ask({ method: "anova", readings: PRINTED }, writer)).status).toBe(403);
  });
});
