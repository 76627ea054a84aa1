import { describe, expect, it } from "vitest";
import { crossedAnova } from "@/lib/core/gauge-studies/crossed-anova";
import { crossedLayout } from "@/lib/core/gauge-studies/crossed-layout";
import { exchangedParts } from "@/lib/core/gauge-studies/exchanged-parts";
import { studyComponents, studySds } from "@/lib/core/gauge-studies/study-components";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/gauge-studies.json";
import strd from "@/tests/reference/strd-anova.json";
import { anovaOf, drawnStudy, layoutOf, PRINTED, seeded } from "./gauge-study-cases";

const { computed, expected } = reference.cases[1] as unknown as {
  computed: Record<"SS" | "MS" | "F", Record<string, number>> & {
    pooled: { variance: Record<string, number>; sigma: Record<string, number>; ndc_raw: number };
    unpooled_with_negative_set_to_zero: { sigma: Record<string, number> };
  };
  expected: { table: Record<string, { df: number; SS: number }>; pooled: { sigma: Record<string, number> } };
};

describe("crossedAnova", () => {
  it("gives the printed table, and F against each of the three denominators", () => {
    const anova = anovaOf(layoutOf(PRINTED));
    const lines = {
      appraiser: anova.inspector,
      part: anova.part,
      "appraiser x part": anova.interaction,
      equipment: anova.repeatability,
    };
    for (const [name, line] of Object.entries(lines)) {
      expect(line.degrees).toBe(expected.table[name]?.df);
      expect(Math.abs(line.sumOfSquares - (expected.table[name]?.SS ?? 0))).toBeLessThan(5e-5);
    }
    expectDigits(anova.inspector.sumOfSquares, computed.SS.op ?? 0, 13);
    expectDigits(anova.interaction.sumOfSquares, computed.SS.inter ?? 0, 12);
    expectDigits(anova.repeatability.sumOfSquares, computed.SS.equip ?? 0, 12);
    const { tests } = anova;
    for (const [test, name] of [
      [tests.repeatability.inspector, "op_vs_equip"],
      [tests.repeatability.part, "part_vs_equip"],
      [tests.interaction.inspector, "op_vs_inter"],
      [tests.interaction.part, "part_vs_inter"],
      [tests.pooled.inspector, "op_vs_pooled"],
      [tests.pooled.part, "part_vs_pooled"],
      [anova.interactionTest, "inter_vs_equip"],
    ] as const)
      expectDigits(test?.f ?? 0, computed.F[name] ?? 0, 12);
    expectDigits(anova.interactionTest?.pValue ?? 0, computed.F.p_inter ?? 0, 10);
  });

  it("pools the interaction by its p value, and keeps both models", () => {
    const anova = anovaOf(layoutOf(PRINTED));
    const components = studyComponents(anova);
    expect(components.isPooled).toBe(true);
    const names = {
      repeatability: "EV",
      reproducibility: "AV",
      interaction: "INT",
      gauge: "GRR",
      part: "PV",
      total: "TV",
    } as const;
    for (const key of Object.keys(names) as (keyof typeof names)[]) {
      expectDigits(components.sds[key], computed.pooled.sigma[names[key]] ?? 0, 11);
      // The total is printed rounded to 1.085.
      if (key !== "interaction" && key !== "total")
        expect(Math.abs(components.sds[key] - (expected.pooled.sigma[names[key]] ?? 0))).toBeLessThan(2e-6);
      expectDigits(
        studySds(anova.withInteraction)[key],
        computed.unpooled_with_negative_set_to_zero.sigma[names[key]] ?? 0,
        11,
      );
    }
    // Printed with 1.41 for the root of 2.
    expectDigits((components.distinctCategories ?? 0) * (1.41 / Math.SQRT2), computed.pooled.ndc_raw, 11);
    expect(studyComponents(anova, { alpha: 0.99 }).isPooled).toBe(false);
    expect(anova.withInteraction.raw.interaction).toBeLessThan(0);
  });

  // The groups of a one-way set as parts, their values dealt to inspectors and trials: squares between parts are the certified
  // squares between groups, everything else together those within.
  it.each([
    ["strd-anova-SmLs01", 12],
    ["strd-anova-SmLs02", 12],
    ["strd-anova-SmLs03", 11],
    ["strd-anova-SmLs04", 9],
    ["strd-anova-SmLs05", 9],
    // 10^12 + 0.4 is stored to 6e-5 only: no algorithm can give more.
    ["strd-anova-SmLs07", 2],
    ["strd-anova-SmLs08", 2],
  ] as const)("gives the certified squares of %s to %i digits", (id, digits) => {
    const found = strd.cases.find((each) => each.id === id);
    const input = found?.input as unknown as Record<
      "group_first_values" | "group_second_values" | "group_third_values",
      string[]
    > & { n_per_group: number };
    const perInspector = Math.floor((input.n_per_group / 3) * 1);
    const readings = input.group_first_values.flatMap((head, group) =>
      Array.from({ length: 3 * perInspector }, (_, index) => ({
        part: String(group),
        inspector: String(index % 3),
        trial: String(Math.floor(index / 3)),
        value: Number(
          index === 0 ? head : index % 2 === 1 ? input.group_second_values[group] : input.group_third_values[group],
        ),
      })),
    );
    // 21, 201 and 2001 values a group are all divisible by three: nothing is left out.
    expect(3 * perInspector).toBe(input.n_per_group);
    const anova = anovaOf(layoutOf(readings));
    expectDigits(anova.part.sumOfSquares, found?.expected.ss_between ?? 0, digits);
    const rest = anova.inspector.sumOfSquares + anova.interaction.sumOfSquares + anova.repeatability.sumOfSquares;
    expectDigits(rest, found?.expected.ss_within ?? 0, digits);
  });

  it("stays what it is when readings are shifted, scaled or come in another order", () => {
    const plain = studyComponents(anovaOf(layoutOf(PRINTED)));
    const change = (make: (value: number) => number) =>
      studyComponents(anovaOf(layoutOf([...PRINTED].reverse().map((each) => ({ ...each, value: make(each.value) })))));
    expectDigits(change((value) => value * 1e-9).sds.gauge, plain.sds.gauge * 1e-9, 12);
    expectDigits(change((value) => value * 1e9).sds.gauge, plain.sds.gauge * 1e9, 12);
    // 1e6 + 0.29 is stored to 1e-10.
    expectDigits(change((value) => value + 1e6).sds.gauge, plain.sds.gauge, 8);
  });

  it("is unbiased and its intervals cover, in a short run", () => {
    // tests/long/gauge-study-coverage.test.ts draws more; 400 studies put 3 standard errors of a share of 95 % at 3.3 %.
    const truth = { part: 3, inspector: 1, interaction: 0.8, repeatability: 1 };
    const generator = seeded(5);
    const runs = 400;
    const raw: Record<"part" | "reproducibility" | "interaction" | "repeatability", number[]> = {
      part: [],
      reproducibility: [],
      interaction: [],
      repeatability: [],
    };
    let covered = 0;
    for (let run = 0; run < runs; run += 1) {
      const anova = anovaOf(drawnStudy(generator, [8, 5, 2], truth));
      raw.part.push(anova.withInteraction.raw.part);
      raw.reproducibility.push(anova.withInteraction.raw.reproducibility);
      raw.interaction.push(anova.withInteraction.raw.interaction ?? 0);
      raw.repeatability.push(anova.withInteraction.repeatability);
      const [lower, upper] = studyComponents(anova, { alpha: 1 }).intervals.gauge;
      const gauge = Math.sqrt(1 + 0.64 + 1);
      if (lower <= gauge && gauge <= upper) covered += 1;
    }
    const variances = { part: 9, reproducibility: 1, interaction: 0.64, repeatability: 1 };
    for (const key of Object.keys(variances) as (keyof typeof variances)[]) {
      const mean = raw[key].reduce((sum, each) => sum + each, 0) / runs;
      const sd = Math.sqrt(raw[key].reduce((sum, each) => sum + (each - mean) ** 2, 0) / (runs - 1));
      expect(Math.abs(mean - variances[key]), key).toBeLessThan((3 * sd) / Math.sqrt(runs));
    }
    expect(covered / runs).toBeGreaterThan(0.95 - 0.033);
    expect(covered / runs).toBeLessThanOrEqual(0.95 + 0.033);
  });
});

describe("a study that gives no answer", () => {
  const reading = (part: string, inspector: string, trial: string, value = 1) => ({ part, inspector, trial, value });
  const square = ["1", "2"].flatMap((part) =>
    ["A", "B"].flatMap((who) => ["1", "2"].map((trial) => reading(part, who, trial))),
  );

  it("says which readings are missing, and what is too few", () => {
    const reason = (readings: readonly (typeof square)[number][]) => {
      const layout = crossedLayout(readings);
      return layout.ok ? "" : layout.reason;
    };
    expect(reason(square.slice(1))).toMatch(/missing: part 1, inspector A, trial 1\./);
    expect(reason(square.filter(({ inspector }) => inspector === "A"))).toMatch(/one inspector only/);
    expect(reason(square.filter(({ trial }) => trial === "1"))).toMatch(/once only/);
    expect(reason(square.filter(({ part }) => part === "1"))).toMatch(/two parts; there is one/);
    expect(() => crossedLayout([...square, reading("1", "A", "1", 7)])).toThrow(/twice/);
    expect(() => crossedLayout([reading("1", "A", "1", Number.NaN), ...square.slice(1)])).toThrow(/finite/);
  });

  it("says that equal readings resolve nothing, also where they differ by rounding only", () => {
    const equal = crossedAnova(layoutOf(square.map((each) => ({ ...each, value: 40.975 }))));
    expect(equal).toMatchObject({ ok: false, reason: expect.stringContaining("All 8 readings are equal") });
    const rounded = square.map((each, index) => ({ ...each, value: index % 2 ? 0.1 + 0.2 : 0.3 }));
    expect(crossedAnova(layoutOf(rounded)).ok).toBe(false);
  });

  it("does not call readings equal that differ by too little to be squared in double precision", () => {
    const tiny = crossedAnova(layoutOf(square.map((each, index) => ({ ...each, value: index * 1e-170 }))));
    expect(tiny).toMatchObject({ ok: false, reason: expect.stringMatching(/^The readings differ by 7e-170 at most/) });
  });

  it("answers where each inspector repeats exactly: no F, no categories, and no number that is none", () => {
    const anova = anovaOf(layoutOf(square.map((each) => ({ ...each, value: each.part === "1" ? 40.975 : 40.98 }))));
    const components = studyComponents(anova);
    expect(anova.interactionTest).toBeNull();
    expect(components).toMatchObject({ isPooled: true, distinctCategories: null });
    expect(components.sds.gauge).toBe(0);
    // By hand: part means 40.975 and 40.98 have the variance (5 µm)^2 / 2.
    expectDigits(components.sds.part, 0.005 / Math.SQRT2, 10);
    expect(JSON.stringify(components)).not.toContain("NaN");
  });
});

describe("exchangedParts", () => {
  const clean = drawnStudy(seeded(9), [10, 3, 3], { part: 10, inspector: 1, interaction: 0, repeatability: 1 });
  const exchange = (places: readonly (readonly [number, number])[]) => {
    const values = [...clean.values];
    for (const [a, b] of places) [values[a], values[b]] = [values[b]!, values[a]!];
    return { ...clean, values };
  };
  const at = (part: number, inspector: number, trial: number) => (part * 3 + inspector) * 3 + trial;

  it("finds nothing in a clean study, nor in the printed one", () => {
    expect(exchangedParts(clean)).toBeNull();
    expect(exchangedParts(layoutOf(PRINTED))).toBeNull();
  });

  it("finds two parts that one inspector measured under each other's number, once or in all trials", () => {
    const once = exchangedParts(exchange([[at(2, 1, 0), at(7, 1, 0)]]));
    expect(once).toEqual({ parts: ["2", "7"], inspector: "1", trial: "0" });
    const always = exchangedParts(exchange([0, 1, 2].map((k) => [at(2, 1, k), at(7, 1, k)] as const)));
    expect(always).toEqual({ parts: ["2", "7"], inspector: "1", trial: null });
  });
});
