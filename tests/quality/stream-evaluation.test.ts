import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { stabilityOf } from "@/lib/core/capability/stability-of";
import { noLimitsText, signalText, streamText, unknownBoundText } from "@/lib/format/signal-words";
import { CHARTED_STREAMS } from "@/lib/quality/control-limits";
import {
  offsetStreamBound,
  offsetStreamCapability,
  streamBound,
  streamCapability,
} from "@/lib/quality/stream-capability";
import { evaluateOffsetStream, evaluateStream, OFFSET_SUBJECT, streamSubject } from "@/lib/quality/stream-evaluation";
import { estimateOffsetLimits, offsetT2 } from "@/lib/quality/stream-offset";
import { expectDigits } from "../helpers/expect-digits";

const [boreMean] = CHARTED_STREAMS;
const taper = CHARTED_STREAMS.find(({ feature }) => feature === "ds.taper");
if (!boreMean || !taper) throw new Error("the charted streams must be there");

const places = (count: number) => Array.from({ length: count }, (_, index) => index);

function normals(count: number, mean: number, sd: number, seed = 41): number[] {
  const random = createSeededGenerator(seed);
  return places(count).map(() => mean + sd * random.normal());
}

describe("streamSubject", () => {
  it("names every charted stream by characteristic, seat and unit", () => {
    const subjects = CHARTED_STREAMS.map(({ feature }) => streamText(streamSubject(feature)));
    expect(new Set(subjects).size).toBe(CHARTED_STREAMS.length);
    expect(streamSubject("ds.bore.mean")).toEqual({
      characteristic: "bore",
      seat: "ds",
      statistic: "mean",
      unit: "mm",
    });
    expect(streamSubject("nds.bore.range")).toEqual({
      characteristic: "bore",
      seat: "nds",
      statistic: "range",
      unit: "µm",
    });
    expect(streamSubject("nds.face")).toMatchObject({ characteristic: "face run-out", seat: "nds" });
    expect(streamSubject("width.mean")).toMatchObject({ characteristic: "width", seat: null });
  });
});

describe("evaluateStream", () => {
  it("computes individuals limits with the exact constant", () => {
    // Source: NIST/SEMATECH e-Handbook 6.3.2.2, flow rates: mean 49.95, mean moving range 1.8778 (printed 1.8778);
    // limits there with d2 = 1.128; with the exact d2 = 2 / sqrt(pi) they are 49.95 -/+ 3 x 1.87777... x sqrt(pi) / 2.
    const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    const mean = flow.reduce((sum, value) => sum + value, 0) / flow.length;
    const repeated = [...flow, ...flow, ...flow];
    const ranges = repeated.slice(1).map((value, index) => Math.abs(value - (repeated[index] ?? 0)));
    const sigma = (ranges.reduce((sum, value) => sum + value, 0) / ranges.length) * (Math.sqrt(Math.PI) / 2);
    const { limits } = evaluateStream(boreMean, repeated, places(30));
    expectDigits(limits?.center ?? 0, mean, 12);
    expectDigits(limits?.upper ?? 0, mean + 3 * sigma, 9);
    expectDigits(limits?.lower ?? 0, mean - 3 * sigma, 9);
  });

  it("gives a reason instead of limits below 25 frames, and calls them provisional below 100", () => {
    expect(evaluateStream(boreMean, normals(24, 41, 0.002), places(24))).toMatchObject({ limits: null, signals: [] });
    const { reason } = evaluateStream(boreMean, normals(24, 41, 0.002), places(24));
    expect(reason === null ? "" : noLimitsText(reason)).toBe("Limits need at least 25 frames; there are 24.");
    expect(evaluateStream(boreMean, normals(99, 41, 0.002), places(99)).limits?.provisional).toBe(true);
    expect(evaluateStream(boreMean, normals(100, 41, 0.002), places(100)).limits?.provisional).toBe(false);
    expect(
      evaluateStream(
        boreMean,
        places(50).map(() => 41),
        places(50),
      ).limits,
    ).toBeNull();
  });

  it("sees a form deviation that grows a little, by its one-sided average", () => {
    const ovality = CHARTED_STREAMS.find(({ feature }) => feature === "ds.ovality")!;
    const random = createSeededGenerator(7);
    const length = (sigma: number) => sigma * Math.hypot(random.normal(), random.normal());
    const values = [...places(300).map(() => length(4)), ...places(100).map(() => length(5.2))];
    const evaluation = evaluateStream(ovality, values, places(300));
    const averages = evaluation.signals.filter(({ rule }) => rule === "ewma");
    expect(averages.length).toBeGreaterThan(0);
    const first = averages.find(({ index }) => index >= 300)!;
    expect(first.side).toBe("upper");
    expect(first.points.at(-1)).toBe(first.index);
    expect(signalText(first, evaluation.limits!, "µm")).toMatch(
      /^the weighted mean of the last frames beyond its limit, high: [\d.]+ µm, limit [\d.]+/,
    );
    expect(evaluation.limits?.average?.limit).toBeLessThan(evaluation.limits?.upper ?? 0);
    expect(evaluateStream(boreMean, normals(100, 41, 0.002), places(100)).limits?.average).toBeNull();
  });

  it("uses limits in force as they are", () => {
    const { limits } = evaluateStream(boreMean, normals(100, 41, 0.002), places(100));
    if (!limits) throw new Error("there must be limits");
    const { signals } = evaluateStream(boreMean, [limits.center, limits.center + 4 * limits.sigma], limits);
    expect(signals).toEqual([
      expect.objectContaining({ index: 1, side: "upper", rule: "zone-1", value: limits.center + 4 * limits.sigma }),
    ]);
  });

  it("sets limits for the size of a signed form value that its own distribution explains", () => {
    // The 99.865 % quantile of |Z|, Z standard normal, is the 99.9325 % quantile of Z: 3.2053 (normal tables).
    const sizes = normals(4000, 0, 1).map(Math.abs);
    const { limits } = evaluateStream(taper, sizes, places(4000));
    expect(limits?.upper).toBeGreaterThan(3.05);
    expect(limits?.upper).toBeLessThan(3.36);
    expect(limits?.lower).toBeNull();
  });
});

describe("the offset vector", () => {
  const random = createSeededGenerator(7);
  const offsets = places(120).map((): [number, number] => [3 + 6 * random.normal(), -2 + 6 * random.normal()]);

  it("has the published T2 limits", () => {
    // Source: Tracy, Young & Mason 1992: later frames p (n + 1)(n - 1) / (n (n - p)) F. For p = 2 the F quantile has a closed
    // form, F(1 - a; 2, m) = (m / 2)(a^(-2 / m) - 1), and so has Beta(1 - a; 1, b) = 1 - a^(1 / b).
    const [n, a] = [100, 0.0026997960632601866];
    const estimate = estimateOffsetLimits(offsets.slice(0, n));
    if (!estimate.ok) throw new Error(estimate.reason.code);
    const f = ((n - 2) / 2) * (a ** (-2 / (n - 2)) - 1);
    expectDigits(estimate.value.upper, ((2 * (n + 1) * (n - 1)) / (n * (n - 2))) * f, 9);
    expectDigits(estimate.value.upperInBaseline, ((n - 1) ** 2 / n) * (1 - a ** (2 / (n - 3))), 9);
  });

  it("measures distance in the directions of the scatter", () => {
    const estimate = estimateOffsetLimits(offsets);
    if (!estimate.ok) throw new Error(estimate.reason.code);
    const { mean } = estimate.value;
    expectDigits(offsetT2(mean, estimate.value) + 1, 1, 12);
    // The mean of T2 over its own baseline is p (n - 1) / n.
    const sum = offsets.reduce((total, offset) => total + offsetT2(offset, estimate.value), 0);
    expectDigits(sum / offsets.length, (2 * 119) / 120, 9);
  });

  it("says how far and towards which clock position a frame lies", () => {
    const knocked: [number, number][] = [
      ...offsets,
      [3 + 60 * Math.cos((2 * Math.PI) / 3), -2 + 60 * Math.sin((2 * Math.PI) / 3)],
    ];
    const { evaluation } = evaluateOffsetStream(knocked, places(100));
    const last = evaluation.signals.find(({ index }) => index === 120);
    expect(signalText(last!, evaluation.limits!, OFFSET_SUBJECT.unit)).toMatch(
      /6[01] µm from its mean towards 4 o'clock|59 µm from its mean towards 4 o'clock/,
    );
  });

  it("has no limits from few frames or from offsets on a line", () => {
    expect(estimateOffsetLimits(offsets.slice(0, 24)).ok).toBe(false);
    expect(estimateOffsetLimits(places(50).map((place): [number, number] => [place, 2 * place])).ok).toBe(false);
  });

  it("has the fraction outside its circle as capability", () => {
    const answer = offsetStreamCapability(offsets, 100, { verdict: "stable" });
    expect(answer).toMatchObject({ ok: true, status: "established", frames: 120 });
  });
});

describe("a form stream whose gauge shows zeros and steps", () => {
  const face = CHARTED_STREAMS.find(({ feature }) => feature === "ds.face");
  if (!face) throw new Error("the face is charted");
  const lengths = (count: number, sigma: number, seed: number) => {
    const random = createSeededGenerator(seed);
    return places(count).map(() => Math.hypot(sigma * random.normal(), sigma * random.normal()));
  };
  const upperOf = (values: readonly number[]) =>
    evaluateStream(face, values, places(values.length)).limits?.upper ?? NaN;

  it("keeps its limits with one 0, and alarms no more often with rounded values than with exact ones", () => {
    const raw = lengths(300, 10, 1);
    const exact = upperOf(raw);
    for (const zero of [0, 7e-12, -7e-12])
      expect(Math.abs(upperOf([zero, ...raw.slice(1)]) / exact - 1)).toBeLessThan(0.02);
    for (const step of [0.5, 1, 5, 10]) {
      const shown = raw.map((value) => step * Math.round(value / step));
      const upper = upperOf(shown);
      expect(Math.abs(upper - step / 2 - exact) / exact, `step ${step}`).toBeLessThan(0.05);
      // what is shown beyond the limit lies beyond it by more than half a step
      const later = lengths(200_000, 10, 2);
      const alarms = later.filter((value) => step * Math.round(value / step) > upper).length;
      const beyond = later.filter((value) => value > upper - step / 2).length;
      expect(alarms).toBeLessThanOrEqual(beyond);
    }
  });

  it("has no limits from the noise of equal readings", () => {
    const noise = lengths(50, 5e-12, 3);
    expect(evaluateStream(face, noise, places(50)).limits).toBeNull();
    const capability = streamCapability({
      lower: null,
      upper: 30,
      againstLower: [],
      againstUpper: noise,
      characteristic: "face run-out",
      stability: { verdict: "stable" },
    });
    expect(capability).toMatchObject({ ok: false, code: "no-variation" });
  });

  it("keeps its capability with one 0 among 300", () => {
    const of = (values: readonly number[]) =>
      streamCapability({
        lower: null,
        upper: 50,
        againstLower: [],
        againstUpper: values,
        characteristic: "face run-out",
        stability: { verdict: "stable" },
      });
    const raw = lengths(300, 10, 1);
    const exact = of(raw);
    const zero = of([0, ...raw.slice(1)]);
    if (!exact.ok || !zero.ok) throw new Error("both have a capability");
    expect(zero.distribution).toBe("rayleigh");
    expect(Math.abs((zero.ppk ?? NaN) / (exact.ppk ?? NaN) - 1)).toBeLessThan(0.02);
    expect(Math.abs(Math.log(zero.ppm / exact.ppm))).toBeLessThan(0.25);
  });
});

describe("streamCapability", () => {
  const input = (values: readonly number[]) => ({
    lower: 40.95,
    upper: 41,
    againstLower: values,
    againstUpper: values,
    characteristic: "bore" as const,
    stability: { verdict: "stable" } as const,
  });

  it("refuses fewer than 25 frames, an unstable stream, and a drawing without limits", () => {
    expect(streamCapability(input(normals(24, 40.975, 0.004)))).toMatchObject({ ok: false, code: "too-few-frames" });
    expect(
      streamCapability({ ...input(normals(200, 40.975, 0.004)), stability: { verdict: "unstable" } }),
    ).toMatchObject({ ok: false, code: "unstable" });
    expect(streamCapability({ ...input(normals(200, 40.975, 0.004)), lower: null, upper: null })).toMatchObject({
      ok: false,
      code: "no-limits",
    });
  });

  it("is provisional from 25 and established from 100 frames, each with an interval about the value", () => {
    for (const [count, status] of [
      [25, "provisional"],
      [99, "provisional"],
      [100, "established"],
    ] as const) {
      const answer = streamCapability(input(normals(count, 40.972, 0.004)));
      expect(answer).toMatchObject({ ok: true, status, limit: "lower", frames: count });
      if (!answer.ok || !answer.interval || answer.ppk === null) throw new Error("there must be an interval");
      expect(answer.interval.lower).toBeLessThan(answer.ppk);
      expect(answer.interval.upper).toBeGreaterThan(answer.ppk);
    }
  });

  it("looks at the last 300 frames", () => {
    const early = places(400).map(() => 40.9);
    const answer = streamCapability(input([...early, ...normals(300, 40.975, 0.003)]));
    expect(answer).toMatchObject({ ok: true, frames: 300 });
  });

  it("takes few frames beyond the limits for chance and many for a change", () => {
    expect(stabilityOf(0, 300).verdict).toBe("stable");
    expect(stabilityOf(4, 300).verdict).toBe("stable");
    expect(stabilityOf(20, 300).verdict).toBe("unstable");
  });
});

describe("streamBound", () => {
  const bore = (values: readonly number[]) => ({
    lower: 40.95,
    upper: 41,
    againstLower: values,
    againstUpper: values,
    characteristic: "bore" as const,
    stability: { verdict: "stable" } as const,
  });

  it("lies over the fraction outside of both limits together, and falls with the number of frames", () => {
    const of = (count: number) => {
      const answer = streamBound(bore(normals(count, 40.975, 0.0125, 5)));
      if (!answer.ok) throw new Error(unknownBoundText(answer.because));
      return answer.fraction;
    };
    // Two standard deviations to each limit: 4.55 % outside (standard normal table).
    expect(of(300)).toBeGreaterThan(0.0455);
    expect(of(300)).toBeLessThan(of(100));
    expect(of(300)).toBeLessThan(0.12);
  });

  it("is not known of few frames, an unstable stream, or values that no distribution fits", () => {
    const why = (bound: ReturnType<typeof streamBound>) => (bound.ok ? null : unknownBoundText(bound.because));
    expect(why(streamBound(bore(normals(12, 40.975, 0.004))))).toBe("12 of 100 frames");
    const unstable = { ...bore(normals(200, 40.975, 0.004)), stability: { verdict: "unstable" } as const };
    expect(why(streamBound(unstable))).toBe("the stream is not stable");
    const twoHumps = [...normals(100, 40.96, 0.0005), ...normals(100, 40.99, 0.0005, 7)];
    expect(why(streamBound(bore(twoHumps)))).toBe("no distribution fits the last 200 frames");
  });

  it("of the offset is that of the circle", () => {
    const [twelve, three] = [normals(200, 0, 20), normals(200, 0, 20, 7)];
    const offsets = places(200).map((at) => [twelve[at] ?? 0, three[at] ?? 0] as const);
    const answer = offsetStreamBound(offsets, 100, { verdict: "stable" });
    // Length of a centred vector: Rayleigh, exp(-50^2 / (2 x 20^2)) = 4.39 % outside of 50 µm.
    expect(answer.ok && answer.fraction).toBeGreaterThan(0.0439);
    expect(answer.ok && answer.fraction).toBeLessThan(0.1);
    expect(offsetStreamBound(offsets.slice(0, 99), 100, { verdict: "stable" })).toEqual({
      ok: false,
      because: { code: "too-few-frames", frames: 99, needed: 100 },
    });
  });
});
