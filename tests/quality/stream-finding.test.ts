import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { adviseMove, readOffsets } from "@/lib/quality/offset-reading";
import { startsStretch, streamFinding } from "@/lib/quality/stream-finding";
import { streamHistogram } from "@/lib/quality/stream-histogram";

function noise(seed: number, count: number): number[] {
  const random = createSeededGenerator(seed);
  return Array.from({ length: count }, () => random.normal());
}

// Synthetic streams with a known answer.
describe("streamFinding", () => {
  it("finds a step where it was put, with the levels on both sides", () => {
    const values = noise(41, 120).map((value, index) => value + (index < 80 ? 0 : 3));
    const found = streamFinding(values, [], 0);
    expect(found).toMatchObject({ kind: "moved", shape: "step" });
    if (found.kind !== "moved") return;
    expect(found.earliest).toBeLessThanOrEqual(80);
    expect(found.latest).toBeGreaterThanOrEqual(80);
    expect(found.now - found.before).toBeGreaterThan(2);
  });

  it("finds a drift and its slope", () => {
    const values = noise(42, 150).map((value, index) => value - Math.max(0, index - 60) * 0.1);
    const found = streamFinding(values);
    expect(found).toMatchObject({ kind: "moved", shape: "drift" });
    if (found.kind === "moved") expect(Math.abs(found.slope + 0.1)).toBeLessThan(0.02);
  });

  it("looks only at the frames since the last change of the tool", () => {
    const values = noise(43, 120).map((value, index) => value + (index < 60 ? 5 : 0));
    expect(streamFinding(values, [60], 0)).toMatchObject({ kind: "steady" });
    // A change too near to the end does not hide what was before it.
    expect(streamFinding(values, [110], 0)).toMatchObject({ kind: "moved" });
  });

  it("says that a steady level is not the baseline's", () => {
    expect(streamFinding(noise(44, 60), [], 4)).toMatchObject({ kind: "off-baseline", baseline: 4 });
    expect(streamFinding(noise(44, 60), [], 0)).toMatchObject({ kind: "steady" });
  });

  it("says nothing about few or equal values", () => {
    expect(streamFinding([1, 2, 3])).toEqual({ kind: "few", frames: 3 });
    expect(streamFinding(new Array<number>(40).fill(7))).toMatchObject({ kind: "few" });
  });

  it("calls about one steady stream in a hundred changed", () => {
    const called = Array.from({ length: 300 }, (_, seed) => streamFinding(noise(1000 + seed, 100))).filter(
      (found) => found.kind === "moved",
    );
    // Nominal 1 %: at most 3; three standard errors above it are 8.
    expect(called.length).toBeLessThanOrEqual(8);
  });

  it("begins a stretch of bores with a reamer, of axes with a fixture", () => {
    expect(startsStretch("ds.bore.mean", "reamer changed")).toBe(true);
    expect(startsStretch("nds.tilt", "reamer changed")).toBe(false);
    expect(startsStretch("offset", "fixture shimmed")).toBe(true);
    expect(startsStretch("width.mean", "other")).toBe(false);
  });
});

describe("streamHistogram", () => {
  it("counts every frame once and fits a curve that holds as many", () => {
    const first = noise(46, 300);
    const found = streamHistogram("individuals", first, noise(47, 50));
    expect(found?.counts.reduce((sum, count) => sum + count, 0)).toBe(300);
    expect(Math.round(found?.later?.reduce((sum, count) => sum + count, 0) ?? 0)).toBe(300);
    expect(found?.edges).toHaveLength((found?.counts.length ?? 0) + 1);
    expect(Math.max(...(found?.curve?.count ?? []))).toBeGreaterThan(20);
  });

  it("gives none for equal values", () => {
    expect(streamHistogram("quantile", [3, 3, 3], [])).toBeNull();
  });
});

describe("readOffsets and adviseMove", () => {
  const cloud = (seed: number, count: number, [y, z]: readonly [number, number]) => {
    const values = noise(seed, count * 2);
    return Array.from(
      { length: count },
      (_, i) => [y + 8 * (values[2 * i] ?? 0), z + 8 * (values[2 * i + 1] ?? 0)] as const,
    );
  };

  it("advises the way back to the axis after a knock towards 4 o'clock", () => {
    const baseline = cloud(48, 100, [0, 0]);
    // 30 µm towards 4 o'clock, 120 degrees: (cos, sin) = (-15, 26).
    const reading = readOffsets([...cloud(49, 60, [0, 0]), ...cloud(50, 30, [-15, 26])], baseline);
    expect(reading.changed).toBe(true);
    expect(Math.abs(reading.since - 60)).toBeLessThanOrEqual(3);
    const advice = adviseMove(reading, 100);
    expect(advice).toMatchObject({ kind: "move" });
    if (advice.kind !== "move") return;
    expect(Math.abs(advice.towardsDegrees - 300)).toBeLessThan(15);
    expect(Math.abs(advice.byUm - 30)).toBeLessThan(6);
  });

  it("leaves a locator alone whose mean is not told from the axis, or only a little off", () => {
    expect(adviseMove(readOffsets(cloud(51, 90, [0, 0]), cloud(52, 100, [0, 0])), 100)).toMatchObject({
      kind: "leave",
    });
    expect(adviseMove(readOffsets(cloud(53, 400, [6, 0]).slice(-400), cloud(54, 100, [6, 0])), 100)).toMatchObject({
      kind: "leave",
    });
  });

  it("counts the frames after a shim only, and waits for five of them before it advises the next", () => {
    const baseline = cloud(48, 100, [0, 0]);
    const before = [...cloud(49, 60, [0, 0]), ...cloud(50, 30, [-15, 26])];
    const none = readOffsets(before, baseline, 90);
    expect(none).toMatchObject({ shimmed: true, changed: false, since: 90 });
    expect(adviseMove(none, 100, { frames: 0, ageMs: 0 })).toEqual({ kind: "leave", because: "shimmed" });
    const after = readOffsets([...before, ...cloud(57, 8, [0, 0])], baseline, 90);
    expect(after.since).toBe(90);
    expect(adviseMove(after, 100, { frames: 8, ageMs: 0 })).toMatchObject({ kind: "leave" });
    // The wrong way: the mean is as far off as before, and the way back is advised from the new frames alone.
    const wrong = readOffsets([...before, ...cloud(58, 12, [-30, 52])], baseline, 90);
    const advice = adviseMove(wrong, 100, { frames: 12, ageMs: 0 });
    expect(advice).toMatchObject({ kind: "move" });
    if (advice.kind === "move") expect(Math.abs(advice.byUm - 60)).toBeLessThan(12);
    // A shim before the change says nothing about it.
    expect(readOffsets(before, baseline, 20)).toMatchObject({ shimmed: false, changed: true });
  });

  it("advises nothing from frames of long ago", () => {
    const reading = readOffsets([...cloud(49, 60, [0, 0]), ...cloud(50, 30, [-15, 26])], cloud(48, 100, [0, 0]));
    const days = (count: number) => ({ frames: 30, ageMs: count * 86_400_000 });
    expect(adviseMove(reading, 100, days(6))).toMatchObject({ kind: "move" });
    expect(adviseMove(reading, 100, days(8))).toEqual({ kind: "leave", because: "old" });
  });

  it("has no limits and no advice from few frames", () => {
    const reading = readOffsets(cloud(55, 3, [0, 0]), cloud(56, 10, [0, 0]));
    expect(reading.limits.ok).toBe(false);
    expect(adviseMove(reading, 100)).toEqual({ kind: "leave", because: "too-few" });
  });
});
