import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/analysis/route";
import { analysisRequestSchema } from "@/lib/schemas/analysis";
import { analyse } from "@/lib/server/analysis/analyse";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";
import { cpuTime } from "../../helpers/machine-time";
import { untilAnswered } from "../../helpers/until-answered";
import { signIn } from "@/lib/server/auth/sign-in";
import hotelling from "../../reference/hotelling.json";
import { cookieHeader, createPlant, createSignIn, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let token = "";
let writer = "";
let cookies: Record<"inspector" | "dock", string>;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const administrator = await (await createTestPlant({ frames: 1 })).as("administrator");
  token = (await createToken(administrator, { name: "reads", scopes: ["results:read"] })).token;
  const system = await createPlant("analysis");
  const cookieOf = async (role: "inspector" | "dock") => {
    const email = `${role}@plant.example`;
    await createSignIn(system, email, role);
    return cookieHeader(await signIn({ email, password: PASSWORD }, new Headers()));
  };
  cookies = { inspector: await cookieOf("inspector"), dock: await cookieOf("dock") };
  writer = (await createToken(administrator, { name: "writes", scopes: ["readings:write"] })).token;
});
afterAll(async () => database.drop());

async function ask(body: unknown, bearer = token) {
  const request = () =>
    new Request("http://localhost:3000/api/v1/analysis", {
      method: "POST",
      headers: { "content-type": "application/json", authorization: `Bearer ${bearer}` },
      body: JSON.stringify(body),
    });
  const response = await untilAnswered(() => POST(request(), { params: Promise.resolve({}) }));
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

  it("charts a form deviation by its distribution, and says how often that alarms", async () => {
    const model = { family: "rayleigh", sigma: 4 };
    const values = [5, 6, 12, 13, 11, 12];
    const { body } = await ask({ kind: "chart", chart: { chart: "form-ewma", values, model, inControl: 370 } });
    const { details } = body.result.value.estimates;
    // elementary: mean of a Rayleigh length, sigma sqrt(pi / 2)
    expect(details.start).toBeCloseTo(4 * Math.sqrt(Math.PI / 2), 9);
    const { start, limit, lambda } = details;
    const length = await ask({ kind: "run-length", design: { of: "form-ewma", model, start, limit, lambda } });
    expect(Math.abs(length.body.result.mean / 370 - 1)).toBeLessThan(0.01);
    const quantiles = await ask({ kind: "chart", chart: { chart: "quantile", values, limits: model, sides: "upper" } });
    // elementary: sigma sqrt(-2 ln 0.00134989...)
    expect(quantiles.body.result.value.main.upper[0]).toBeCloseTo(4 * Math.sqrt(-2 * Math.log(0.0013498980316301)), 9);
  });

  it("tests for normality, chooses a distribution and gives chart constants", async () => {
    // D'Agostino and Stephens 1986, Goodness-of-Fit Techniques, table 4.1: weights of 20 chicks, A2 = 0.214 (example)
    const chicks = [156, 162, 168, 182, 186, 190, 190, 196, 202, 210, 214, 220, 226, 230, 230, 236, 236, 242, 246, 270];
    const normal = await ask({ kind: "normality", values: chicks });
    expect(normal.body.result.value.andersonDarling.statistic).toBeCloseTo(0.214, 3);
    const chosen = await ask({ kind: "distribution", values: chicks });
    expect(chosen.body.result.value.candidates).toHaveLength(3);
    expect((await ask({ kind: "distribution", values: [1, 1, 1] })).body.result).toMatchObject({ ok: false });
    expect((await ask({ kind: "normality", values: Array(9).fill(3) })).body.result).toMatchObject({ ok: false });
    // tables of control chart constants: d2 of five is 2.326
    expect((await ask({ kind: "chart-constants", n: 5 })).body.result.d2).toBeCloseTo(2.326, 3);
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
    ["a number beyond what squares hold", { kind: "chart", chart: { chart: "individuals", values: [1e300, 1, 2] } }],
    ["vectors of different length", { kind: "chart", chart: { chart: "t2", vectors: [[1, 2], [3]] } }],
    [
      "rules that never signal",
      {
        kind: "run-length",
        design: {
          of: "rules",
          rules: [
            { id: "a", test: "monotone", length: 31 },
            { id: "b", test: "beyond-limit", sigmas: 9 },
          ],
        },
      },
    ],
    [
      "a one-sided CUSUM with a baseline",
      { kind: "run-length", design: { of: "cusum", k: 0.5, h: 4, sides: "one", baseline: { points: 100 } } },
    ],
    [
      "tool changes beyond the values",
      { kind: "tool-life", values: FLOW, toolChanges: [99], limits: { lower: 1, upper: null } },
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

  it("charts vectors: T2 of subgroups as the textbook, and the target plot of offsets", async () => {
    // Montgomery, Introduction to Statistical Quality Control, example 11.1: phase II limit 15.16 from 20 subgroups of 10
    const book = hotelling.cases.find(({ id }) => id === "t2-subgroups")!;
    const vectors = (book.input.rows as number[][]).map(([a, b]) => [a!, b!]);
    const baseline = {
      mean: [115.59, 1.06],
      covariance: [
        [1.23, 0.79],
        [0.79, 0.83],
      ],
      count: 200,
      degreesOfFreedom: 180,
    };
    const subgroups = vectors.map((vector) => Array.from({ length: 10 }, () => vector));
    const means = await ask({ kind: "chart", chart: { chart: "t2-means", subgroups, alpha: 0.001, baseline } });
    expect(Math.abs(means.body.result.value.main.upper[0] - 15.16)).toBeLessThan(0.0051);
    const printed = (book.expected as { T2: number[] }).T2;
    printed.forEach((t2, index) =>
      expect(Math.abs(means.body.result.value.main.values[index] - t2)).toBeLessThan(0.0051),
    );
    for (const chart of ["t2", "mewma"]) {
      const { body } = await ask({ kind: "chart", chart: { chart, vectors, baseline } });
      expect(body.result.value.main).toMatchObject({ kind: chart, phase: 2 });
    }
    const target = await ask({ kind: "target-plot", offsets: vectors });
    expect(target.body.result.value.mean[0].toFixed(2)).toBe("115.59");
  });

  it("knows every other chart of the core", async () => {
    const values = FLOW;
    const kinds = async (chart: object) => (await ask({ kind: "chart", chart })).body.result.value.main.kind;
    expect(await kinds({ chart: "trended", values })).toBe("trended");
    expect(await kinds({ chart: "deviation-from-nominal", values, nominals: values.map(() => 50) })).toBe(
      "deviation-from-nominal",
    );
    expect(await kinds({ chart: "standardised", values, models: values.map((_, i) => (i < 5 ? "A" : "B")) })).toBe(
      "standardised",
    );
    expect(await kinds({ chart: "quantile", values, limits: { lower: 45, median: 50, upper: 55 } })).toBe(
      "individuals",
    );
    expect(await kinds({ chart: "u", counts: [3, 5, 2], sizes: [1, 1.5, 1] })).toBe("u");
  });

  it("gives the run length of a multivariate EWMA, of estimated limits and of a mixture before the deadline", async () => {
    // Prabhu and Runger 1997, Journal of Quality Technology 29(1) 8-15 (from memory): 200
    const mewma = await ask({ kind: "run-length", design: { of: "mewma", dimensions: 2, lambda: 0.1, limit: 8.64 } });
    expect(Math.abs(mewma.body.result.mean - 200)).toBeLessThan(2);
    const rules = { of: "rules", rules: "limit", baseline: { points: 100 } };
    const limits = (await ask({ kind: "run-length", design: rules })).body.result;
    // exact: 1 / 0.0026998 = 370.4; numbers of the 5 to 95 % range from 100 frames: about 95 to 1,760
    expect(limits.mean).toBeCloseTo(370.398, 2);
    expect(Math.abs(limits.estimatedLimits.lower - 95)).toBeLessThan(5);
    expect(Math.abs(limits.estimatedLimits.upper / 1760 - 1)).toBeLessThan(0.05);
    const rare = [
      { id: "a", test: "monotone", length: 9 },
      { id: "b", test: "beyond-limit", sigmas: 5 },
    ];
    // Longer than the deadline on a busy machine, so that it is counted in CPU time: two thirds of it at most, a quarter here.
    const asked = analysisRequestSchema.parse({ kind: "run-length", design: { of: "rules", rules: rare } });
    let mixture = {} as { method: string; mean: number; standardError: number };
    expect(cpuTime(() => (mixture = (analyse(asked) as { result: typeof mixture }).result))).toBeLessThan(3300);
    expect(mixture.method).toBe("simulation");
    expect(mixture.standardError / mixture.mean).toBeLessThan(0.4);
    const design = (await ask({ kind: "chart-design", inControl: 370, shift: 1 })).body.result;
    // Hawkins and Olwell 1998, Cumulative Sum Charts, table 3.1: k 0.5, 370 two-sided: h 4.77
    expect(design.cusum.design.h.toFixed(2)).toBe("4.77");
  });

  it("gathers findings and states the fraction of offsets outside", async () => {
    const frames = Array.from({ length: 60 }, (_, position) => ({
      position,
      factors: { gauge: position >= 40 && position < 46 ? "G2" : "G1" },
    }));
    const signals = [40, 42, 44].map((position) => ({ stream: `s${position}`, position, from: position }));
    const { body } = await ask({ kind: "findings", signals, frames });
    expect(body.result.findings[0].cause).toMatchObject({ factor: "gauge", value: "G2", evidence: "share" });
    const offsets = Array.from({ length: 120 }, (_, i) => [12 * Math.sin(i), 12 * Math.cos(1.7 * i)]);
    const asked = { kind: "offset-capability", offsets, largestOffset: 50, stability: { verdict: "stable" } };
    expect((await ask(asked)).body.result).toMatchObject({ ok: true, value: { frames: 120, observedOutside: 0 } });
  });

  it("keeps a bootstrap within what one request may take", async () => {
    const values = Array.from({ length: 2000 }, (_, i) => 1 + Math.sin(i) ** 2);
    const limits = { lower: null, upper: 3 };
    const body = { kind: "capability", characteristic: "zero-bound", values, limits, stability: { verdict: "stable" } };
    const many = await ask({ ...body, resamples: 2000 });
    expect([many.status, many.body.fields[0].path]).toEqual([400, "resamples"]);
    expect((await ask({ ...body, values: [...values, ...values] })).status).toBe(413);
  });

  it("answers a person who may look at Drift, and nobody else", async () => {
    const asPerson = async (cookie: string | null) => {
      const request = new Request("http://localhost:3000/api/v1/analysis", {
        method: "POST",
        headers: {
          "content-type": "application/json",
          "sec-fetch-site": "same-origin",
          ...(cookie === null ? {} : { cookie }),
        },
        body: JSON.stringify({ kind: "chart", chart: { chart: "individuals", values: FLOW } }),
      });
      const response = await POST(request, { params: Promise.resolve({}) });
      return { status: response.status, body: await response.json() };
    };
    expect(await asPerson(cookies.inspector)).toMatchObject({ status: 200, body: { result: { ok: true } } });
    expect((await asPerson(cookies.dock)).status).toBe(403);
    expect((await asPerson(null)).status).toBe(401);
  });

  it("is not for a token that only writes", async () => {
    expect((await ask({ kind: "change-point", values: FLOW }, writer)).status).toBe(403);
  });
});
