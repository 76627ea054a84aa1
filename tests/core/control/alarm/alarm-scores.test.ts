import { describe, expect, it } from "vitest";
import {
  formBaseline,
  sizeBaseline,
  sizeScore,
  sizeSd,
  standardised,
  vectorBaseline,
  vectorScore,
} from "@/lib/core/control/alarm/alarm-baseline";
import { alarmThresholds } from "@/lib/core/control/alarm/alarm-thresholds";
import {
  type AlarmSignal,
  type AlarmState,
  type FormScheme,
  type FormState,
  type SizeScheme,
  type SizeState,
  startAlarm,
  stepAlarm,
  type VectorScheme,
  type VectorState,
} from "@/lib/core/control/alarm/stream-alarm";
import { vectorThresholds } from "@/lib/core/control/alarm/vector-thresholds";
import { chiSquareSf } from "@/lib/core/distributions/chi-square";
import { fisherFSf } from "@/lib/core/distributions/fisher-f";
import { normalQuantile } from "@/lib/core/distributions/normal";
import { studentTCdf, studentTSf } from "@/lib/core/distributions/student-t";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";

const BASELINE = [10, 12, 9, 11, 10, 13, 8, 11, 10, 12, 9, 11];
const AFTER = [10, 12, 10, 14, 13, 9.5];
const SIZE: SizeScheme = {
  kind: "size",
  sides: "both",
  lower: null,
  upper: null,
  grows: true,
  thresholds: alarmThresholds(8580, 0),
};
const FORM: FormScheme = { kind: "form", shift: 0, grows: true, thresholds: alarmThresholds(8580) };
const VECTOR: VectorScheme = {
  kind: "vector",
  centre: [0, 0],
  radius: 0,
  grows: true,
  thresholds: vectorThresholds(8580),
};

function sizeRun(values: readonly number[], from: SizeState, scheme: SizeScheme = SIZE) {
  const signals: AlarmSignal[] = [];
  let state = from;
  const steps = values.map((value) => {
    const step = stepAlarm(scheme, state, value);
    state = step.state;
    if (step.signal) signals.push(step.signal);
    return step;
  });
  return { steps, state, signals };
}

describe("scores of a growing baseline", () => {
  it("are the t scores of another program, with its sums and its baseline", () => {
    // computed for this project in Python (scipy), exact to the digits
    const { steps } = sizeRun(AFTER, startAlarm(sizeBaseline(BASELINE)) as SizeState);
    const expected = [-0.323958, 1.02023, -0.312408, 2.216097, 1.645116, -0.718062];
    const sums = [0, 0.52023, 0, 1.716097, 2.861212, 1.64315];
    steps.forEach(({ score, state }, place) => {
      expect(score).toBeCloseTo(expected[place] ?? Number.NaN, 6);
      expect(state.upper.slow).toBeCloseTo(sums[place] ?? Number.NaN, 5);
    });
    expect(steps.map(({ state }) => state.baseline.count)).toEqual([13, 13, 15, 15, 15, 15]);
  });

  it("are the same by the expansion of large baselines as by the t distribution itself", () => {
    // the t distribution function against its own reference values: tests/core/distributions
    for (const count of [41, 60, 100, 400, 2000]) {
      const baseline = { count, mean: 0, squares: count - 1 };
      for (const value of [-8, -4.2, -1, -0.01, 0, 0.3, 2, 5, 8]) {
        const t = value / Math.sqrt(1 + 1 / count);
        const exact = t < 0 ? normalQuantile(studentTCdf(t, count - 1)) : -normalQuantile(studentTSf(t, count - 1));
        expect(Math.abs(sizeScore(baseline, value) - exact), `${count} ${value}`).toBeLessThan(1e-7);
      }
    }
  });

  it("are the rank scores of another program, ties counted half", () => {
    // computed for this project in Python (scipy), exact to the digits
    let state = startAlarm(formBaseline(BASELINE)) as FormState;
    const expected = [-0.293381, 0.920823, -0.27188, 1.862732, 1.534121, -0.776422];
    AFTER.forEach((value, place) => {
      const step = stepAlarm(FORM, state, value);
      state = step.state;
      expect(step.score).toBeCloseTo(expected[place] ?? Number.NaN, 6);
    });
  });

  it("of a vector have the chance of T2 of a new vector", () => {
    // Tracy, Young and Mason 1992, Journal of Quality Technology 24 88-95: T2 n (n - 2) / (2 (n^2 - 1)) is F(2, n - 2)
    const random = createSeededGenerator(7);
    const values = Array.from({ length: 30 }, () => [3 * random.normal(), 1 + random.normal()] as const);
    const baseline = vectorBaseline(values);
    const next = [2.5, 3.5] as const;
    const length = Math.hypot(...standardised(baseline, [next[0] - baseline.mean[0], next[1] - baseline.mean[1]]));
    const f = (length * length * 30 * 28) / (2 * (30 * 30 - 1));
    const scored = Math.hypot(...vectorScore(baseline, next));
    expectDigits(chiSquareSf(scored * scored, 2), fisherFSf(f, [2, 28]), 11);
  });

  it("do not move with offset and scale of the values", () => {
    const plain = sizeRun(AFTER, startAlarm(sizeBaseline(BASELINE)) as SizeState);
    const moved = (value: number) => 1e6 + 1e-3 * value;
    const other = sizeRun(AFTER.map(moved), startAlarm(sizeBaseline(BASELINE.map(moved))) as SizeState);
    plain.steps.forEach(({ score }, place) => expectDigits(other.steps[place]?.score ?? Number.NaN, score, 5));
  });
});

describe("stepAlarm", () => {
  it("goes on from a stored state to the bit, for each kind of stream", () => {
    const random = createSeededGenerator(11);
    const sizes = Array.from({ length: 400 }, (_, place) => random.normal() + (place > 300 ? 2 : 0));
    const stored = (state: AlarmState) => JSON.parse(JSON.stringify(state)) as never;

    const whole = sizeRun(sizes.slice(50), startAlarm(sizeBaseline(sizes.slice(0, 50))) as SizeState);
    const half = sizeRun(sizes.slice(50, 317), startAlarm(sizeBaseline(sizes.slice(0, 50))) as SizeState);
    const rest = sizeRun(sizes.slice(317), stored(half.state));
    expect(rest.state).toEqual(whole.state);
    expect([...half.signals, ...rest.signals]).toEqual(whole.signals);
    expect(whole.signals.length).toBeGreaterThan(0);

    const forms = sizes.map(Math.abs);
    const vectors = sizes.map((value) => [value, random.normal()] as const);
    let [form, vector] = [
      startAlarm(formBaseline(forms.slice(0, 50))),
      startAlarm(vectorBaseline(vectors.slice(0, 50))),
    ];
    let [formStored, vectorStored] = [form, vector];
    for (let place = 50; place < 400; place++) {
      form = stepAlarm(FORM, form as FormState, forms[place] ?? 0).state;
      vector = stepAlarm(VECTOR, vector as VectorState, vectors[place] ?? [0, 0]).state;
      formStored = stepAlarm(FORM, stored(formStored), forms[place] ?? 0).state;
      vectorStored = stepAlarm(VECTOR, stored(vectorStored), vectors[place] ?? [0, 0]).state;
    }
    expect(formStored).toEqual(form);
    expect(vectorStored).toEqual(vector);
  });

  it("signals a frame outside its guarded limit by itself and keeps it out of the baseline", () => {
    const start = startAlarm(sizeBaseline(BASELINE)) as SizeState;
    const step = stepAlarm(SIZE, start, 10, true);
    expect(step.signal).toEqual({ index: 0, side: "lower", test: "frame" });
    expect(step.state.baseline).toEqual(start.baseline);
    expect(step.state.isOut).toBe(true);
    // nothing enters until the sums were quiet for 25 frames
    const after = sizeRun(new Array<number>(25).fill(10.6), step.state);
    expect(after.steps.map(({ state }) => state.baseline.count)).toEqual([...new Array<number>(24).fill(12), 13]);
    expect(after.state.isOut).toBe(false);
  });

  it("names the side and the test: one far frame by the limit, a large shift by the fast sum, a small one by the slow", () => {
    const start = startAlarm(sizeBaseline(BASELINE)) as SizeState;
    const sd = sizeSd(start.baseline);
    const shifted = (by: number) => sizeRun(new Array<number>(40).fill(10.5 + by * sd), start).signals[0];
    expect(shifted(12)).toMatchObject({ index: 0, side: "upper", test: "limit" });
    expect(shifted(-2.8)).toMatchObject({ side: "lower", test: "fast" });
    expect(shifted(1.3)).toMatchObject({ side: "upper", test: "slow" });
  });

  it("does not count what happens inside the region", () => {
    const scheme: SizeScheme = { ...SIZE, upper: 14, lower: 7, thresholds: alarmThresholds(8580) };
    const start = startAlarm(sizeBaseline(BASELINE)) as SizeState;
    expect(sizeRun(new Array<number>(300).fill(13), start, scheme).signals).toEqual([]);
    expect(sizeRun(new Array<number>(300).fill(16.5), start, scheme).signals.length).toBeGreaterThan(0);
    // the edge is a place: whatever entered the baseline, what passes it is still found
    const crept = sizeRun([...new Array<number>(300).fill(13), ...new Array<number>(20).fill(17)], start, scheme);
    expect(crept.signals.length).toBeGreaterThan(0);
  });

  it("refuses values that are not finite and schemes of another kind", () => {
    const start = startAlarm(sizeBaseline(BASELINE)) as SizeState;
    expect(() => stepAlarm(SIZE, start, Number.NaN)).toThrow("value must be finite");
    expect(() => stepAlarm(FORM, start as never, 1)).toThrow("a size stream must have a scheme");
    expect(() => sizeBaseline([1, 1, 1])).toThrow("must not all be equal");
    expect(() => sizeBaseline([1, 2])).toThrow("at least 3");
    expect(() =>
      vectorBaseline([
        [1, 1],
        [2, 2],
        [3, 3],
        [4, 4],
        [5, 5],
      ]),
    ).toThrow("two directions");
  });
});
