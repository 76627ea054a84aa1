import { describe, expect, it } from "vitest";
import { cusumChart } from "@/lib/core/control/charts/cusum-chart";
import { gatherFindings } from "@/lib/core/control/causes/findings";
import { standardisedChart } from "@/lib/core/control/charts/short-run-chart";
import { trendedChart } from "@/lib/core/control/charts/trended-chart";
import { referenceCircles } from "@/lib/core/metrology/reference-circles";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { growth } from "../helpers/machine-time";

type Random = ReturnType<typeof createSeededGenerator>;

const TIMES = 8;

const values = (n: number): number[] => {
  const random = createSeededGenerator(7);
  return Array.from({ length: n }, () => 41 + 0.003 * random.normal());
};
const everyFourth = (n: number) => Array.from({ length: Math.floor(n / 4) }, (_, index) => 4 * index);

function findingsOf(n: number): () => unknown {
  const frames = Array.from({ length: 10 * n }, (_, position) => ({
    position,
    factors: Object.fromEntries(Array.from({ length: 6 }, (_, f) => [`f${f}`, `v${position % (5 * n)}`])),
  }));
  const signals = Array.from({ length: n }, (_, index) => {
    const points = Array.from({ length: 9 }, (_, k) => 10 * index + k);
    return { stream: `s${index}`, position: 10 * index, from: 10 * index, side: null, points };
  });
  return () => gatherFindings(signals, frames);
}

const CASES: readonly { name: string; n: number; of: (n: number) => () => unknown }[] = [
  {
    name: "trended limits of many tool lives",
    n: 8000,
    of: (n) => {
      const [x, toolChanges] = [values(n), everyFourth(n)];
      return () => trendedChart(x, { toolChanges });
    },
  },
  {
    name: "a standardised chart of many models",
    n: 8000,
    of: (n) => {
      const x = values(n);
      const models = x.map((_, index) => `m${index % (n / 4)}`);
      return () => standardisedChart(x, models);
    },
  },
  {
    name: "a CUSUM that never comes back to zero",
    n: 8000,
    of: (n) => {
      const x = values(n);
      return () => cusumChart(x, { target: 40, sigma: 0.003 });
    },
  },
  { name: "findings of many signals and levels", n: 120, of: findingsOf },
];

describe("what a request may ask for", () => {
  it.each(CASES)("grows near linearly: $name", ({ n, of }) => {
    // Linear gives 1, quadratic 8.
    expect(growth(TIMES, of(n), of(TIMES * n))).toBeLessThan(3);
  });

  it("would find what grows with the square", () => {
    const pairs = (n: number) => () => {
      let sum = 0;
      for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) sum += (i * j) % 7;
      return sum;
    };
    expect(growth(TIMES, pairs(700), pairs(TIMES * 700))).toBeGreaterThan(5);
  });

  const noise = (least: number) => (random: Random) => 20.5 * (1 + least * random.normal());
  const sections: Record<string, (random: Random) => number> = {
    round: noise(1.5e-4),
    "read to whole micrometres": (random) => 20.5 + Math.round(3 * random.normal()) / 1000,
    rough: (random) => 20 * (0.7 + 0.3 * random.uniform()),
    "on one circle": () => 20.5,
    "on one circle to 1e-10": noise(3e-11),
  };
  it.each([...Object.keys(sections), "of pairs closer than rounding"])(
    "finds the circles of 16,000 points about as fast as those of 1,000, each: %s",
    (kind) => {
      const section = (n: number) => {
        const random = createSeededGenerator(3);
        const radiusOf = sections[kind];
        return Array.from({ length: n }, (_, index) => {
          const [pair, place] = radiusOf ? [index, 0] : [index >> 1, 3e-13 * (index % 2)];
          const radius = radiusOf?.(random) ?? 20.5 + 0.003 * Math.sin(pair * pair);
          const phi = (2 * Math.PI * pair) / (radiusOf ? n : n / 2);
          return { y: radius * Math.cos(phi) + place, z: radius * Math.sin(phi) };
        });
      };
      const [few, many] = [section(1000), section(16_000)];
      const times = growth(
        16,
        () => referenceCircles(few),
        () => referenceCircles(many),
      );
      // n log n: 1.4, square: 16.
      expect(times).toBeLessThan(4);
    },
    240_000,
  );

  it("names every point of a CUSUM's excursion once", () => {
    const { value } = cusumChart([0, 3, 3, 3, 0, 3, -9, -9, 3], { target: 0, sigma: 1, k: 0.5, h: 4 }) as Extract<
      ReturnType<typeof cusumChart>,
      { ok: true }
    >;
    // Page's sum by hand: 0, 2.5, 5, 7.5, 7, 9.5, 0.5, 0, 2.5: above 4 at 2, 3, 4 and 5.
    expect(value.main.signals.map(({ index, points }) => [index, points])).toEqual([
      [2, [1, 2]],
      [3, [3]],
      [4, [4]],
      [5, [5]],
    ]);
  });
});
