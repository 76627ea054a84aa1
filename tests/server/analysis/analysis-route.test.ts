import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/analysis/route";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let token = "";
let writer = "";
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const administrator = await (await createTestPlant({ frames: 1 })).as("administrator");
  token = (await createToken(administrator, { name: "reads", scopes: ["results:read"] })).token;
  writer = (await createToken(administrator, { name: "writes", scopes: ["readings:write"] })).token;
});
afterAll(async () => database.drop());

async function ask(body: unknown, bearer = token) {
  const request = new Request("http://localhost:3000/api/v1/analysis", {
    method: "POST",
    headers: { "content-type": "application/json", authorization: `Bearer ${bearer}` },
    body: JSON.stringify(body),
  });
  const response = await POST(request, { params: Promise.resolve({}) });
  return { status: response.status, body: await response.json() };
}

// NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of ten batches.
const FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

describe("POST /api/v1/analysis", () => {
  it("charts individuals as the handbook does", async () => {
    const { status, body } = await ask({
      kind: "chart",
      chart: { chart: "individuals", values: FLOW, constants: "printed" },
    });
    expect(status).toBe(200);
    // NIST/SEMATECH e-Handbook 6.3.2.2: centre 50.81, limits 45.8079 and 55.8041 with d2 = 1.128 (printed from rounded parts)
    expect(body.result.value.main.centre[0]).toBeCloseTo(50.81, 9);
    expect(Math.abs(body.result.value.main.lower[0] - 45.8079)).toBeLessThan(0.03);
    expect(Math.abs(body.result.value.main.upper[0] - 55.8041)).toBeLessThan(0.03);
  });

  it("gives the run length of the zone tests, of an EWMA and of a CUSUM", async () => {
    const rules = await ask({ kind: "run-length", design: { of: "rules", rules: "zone" } });
    // Champ and Woodall 1987, Technometrics 29(4), table 1: all four zone tests, no shift: 91.75
    expect(rules.body.result.mean).toBeCloseTo(91.75, 2);
    const ewma = await ask({ kind: "run-length", design: { of: "ewma", lambda: 0.1, width: 2.814 } });
    // Lucas and Saccucci 1990, Technometrics 32(1): 500 in control
    expect(Math.abs(ewma.body.result.mean - 500)).toBeLessThan(2);
    const cusum = await ask({ kind: "run-length", design: { of: "cusum", k: 0.5, h: 4 } });
    // Montgomery, Introduction to Statistical Quality Control, table of tabular CUSUM: 168
    expect(Math.abs(cusum.body.result.mean - 168)).toBeLessThan(0.7);
  });

  it("finds the points that make a pattern", async () => {
    const { body } = await ask({ kind: "run-rules", values: [0, 2.5, 0.1, 2.2, 3.5], centre: 0, sigma: 1 });
    expect(body.result.signals.map((signal: { rule: string; index: number }) => [signal.rule, signal.index])).toEqual([
      ["zone-2", 3],
      ["zone-1", 4],
      ["zone-2", 4],
    ]);
  });

  it("refuses a capability of an unstable or a short stream in words", async () => {
    const limits = { lower: 40, upper: 60 };
    const short = await ask({ kind: "capability", values: FLOW, limits, stability: { verdict: "stable" } });
    expect(short.body.result).toMatchObject({ ok: false, code: "too-few-frames" });
    const values = Array.from({ length: 120 }, (_, index) => 50 + Math.sin(index));
    const unstable = await ask({ kind: "capability", values, limits, stability: { verdict: "unstable" } });
    expect(unstable.body.result).toMatchObject({ ok: false, code: "unstable" });
    const stable = await ask({ kind: "capability", values, limits, stability: { verdict: "stable" }, resamples: 100 });
    expect(stable.body.result.ok).toBe(true);
  });

  it("takes variation apart, finds a change, advises a move and a tool change", async () => {
    const groups = [
      [1, 2, 3],
      [4, 5, 6],
    ];
    // by hand: SS between 13.5, SS within 4, F = 13.5 / (4 / 4)
    expect((await ask({ kind: "anova", groups })).body.result.value.f).toBeCloseTo(13.5, 9);
    const values = groups.flatMap((group, index) => group.map((value) => ({ value, levels: { mould: `M${index}` } })));
    const parts = await ask({ kind: "variance-components", values, factors: ["mould"] });
    expect(parts.body.result.value.components[0].factor).toBe("mould");
    const step = [...Array(20).fill(0), ...Array(20).fill(5)].map((value, index) => value + (index % 3) * 0.1);
    expect((await ask({ kind: "change-point", values: step })).body.result.value.lastBefore).toBe(19);
    const offsets = Array.from({ length: 40 }, (_, index) => [
      0.03 + 0.001 * Math.sin(index),
      0.001 * Math.cos(2 * index),
    ]);
    expect(
      (await ask({ kind: "adjustment", offsets, zoneRadius: 0.05 })).body.result.value.advice.move.towardsClock,
    ).toBe("6");
    const wear = Array.from({ length: 60 }, (_, index) => 41 - 0.0002 * index + 0.001 * Math.sin(7 * index));
    const life = await ask({ kind: "tool-life", values: wear, limits: { lower: 40.95, upper: null } });
    expect(life.body.result.framesLeft.ok).toBe(true);
  });

  it.each([
    ["an unknown kind", { kind: "guess" }],
    [
      "limits reversed",
      { kind: "capability", values: FLOW, limits: { lower: 60, upper: 40 }, stability: { verdict: "stable" } },
    ],
    ["a text among numbers", { kind: "chart", chart: { chart: "individuals", values: [1, "2"] } }],
    ["no value", { kind: "chart", chart: { chart: "individuals", values: [] } }],
    ["a lambda above 1", { kind: "chart", chart: { chart: "ewma", values: FLOW, lambda: 2 } }],
    ["a subgroup that is empty", { kind: "chart", chart: { chart: "mean", subgroups: [[1, 2], []] } }],
    ["a sigma of zero", { kind: "run-rules", values: FLOW, centre: 50, sigma: 0 }],
    [
      "a pattern longer than the memory",
      { kind: "run-rules", values: FLOW, centre: 50, sigma: 1, rules: [{ id: "x", test: "same-side", length: 99 }] },
    ],
    ["counts above their sample", { kind: "chart", chart: { chart: "p", counts: [5], sizes: 3 } }],
  ])("answers %s in words", async (_, body) => {
    const answer = await ask(body);
    expect(answer.status).toBe(400);
    expect(answer.body.detail.length).toBeGreaterThan(10);
  });

  it("gives a reason, never NaN, for one point and for points that are all equal", async () => {
    for (const values of [[1], [2, 2, 2, 2]]) {
      const { status, body } = await ask({ kind: "chart", chart: { chart: "individuals", values } });
      expect(status).toBe(200);
      expect(body.result).toMatchObject({ ok: false, reason: expect.stringMatching(/./) });
    }
  });

  it("is not for a token that only writes", async () => {
    expect((await ask({ kind: "change-point", values: FLOW }, writer)).status).toBe(403);
  });
});
