import { describe, expect, it } from "vitest";
import { decisionAgreement } from "@/lib/core/gauge-studies/decision-agreement";
import { cohenKappa, fleissKappa, type DecisionPair } from "@/lib/core/gauge-studies/kappa";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/kappa.json";

describe("cohenKappa", () => {
  const pairs = reference.cohen.table.flatMap((row, one) =>
    row.flatMap((count, other) => Array.from({ length: count }, (): DecisionPair[] => [[one, other]])),
  );

  it("gives the printed kappa, and the standard error that numerical derivatives give", () => {
    const estimate = cohenKappa(pairs, 3);
    if (!estimate.ok) throw new Error(estimate.reason);
    const { kappa, standardError, interval } = estimate.value;
    const { computed, printed } = reference.cohen;
    expectDigits(kappa, computed.kappa, 12);
    // n - 1 instead of n under the root.
    expectDigits(standardError * Math.sqrt(99 / 100), computed.standardError, 6);
    expect(Math.abs(kappa - printed.kappa)).toBeLessThan(0.005);
    expect(interval[0]).toBeLessThan(kappa);
    expect(interval[1]).toBeGreaterThan(kappa);
  });

  it("does not grow surer where the same parts are decided on again with the same outcome", () => {
    const once = cohenKappa(pairs, 3);
    const thrice = cohenKappa(
      pairs.map(([pair]) => [pair!, pair!, pair!]),
      3,
    );
    if (!once.ok || !thrice.ok) throw new Error("no kappa");
    expectDigits(thrice.value.standardError, once.value.standardError, 12);
  });

  it("has no answer where chance agrees as well, and a lower bound where all parts agree", () => {
    const all = (pair: DecisionPair) => Array.from({ length: 10 }, () => [pair]);
    expect(cohenKappa(all([0, 0]), 2)).toMatchObject({ ok: false, reason: expect.stringContaining("chance") });
    // 0 against 1 for all: agreement 0, by chance 0 as well.
    expect(cohenKappa(all([0, 1]), 2)).toMatchObject({ ok: true, value: { kappa: 0 } });
    const perfect = cohenKappa([...all([0, 0]), ...all([1, 1])], 2);
    // Clopper and Pearson, 20 of 20: lower bound 0.025^(1/20); chance 0.5.
    expect(perfect.ok && perfect.value.kappa).toBe(1);
    if (perfect.ok) expectDigits(perfect.value.interval[0], 2 * (0.025 ** (1 / 20) - 0.5), 9);
  });
});

describe("fleissKappa", () => {
  it("gives the worked example and its jackknife", () => {
    const estimate = fleissKappa(reference.fleiss.counts);
    if (!estimate.ok) throw new Error(estimate.reason);
    expectDigits(estimate.value.kappa, reference.fleiss.computed.kappa, 12);
    expectDigits(estimate.value.standardError, reference.fleiss.computed.standardError, 9);
    expect(Math.abs(estimate.value.kappa - reference.fleiss.printed.kappa)).toBeLessThan(0.0005);
  });

  it("refuses parts that were decided on unequally often, and one category gives no answer", () => {
    expect(() => fleissKappa([[2, 0], [1, 0]])).toThrow(/2 decisions/); // prettier-ignore
    expect(fleissKappa([[3, 0], [3, 0]])).toMatchObject({ ok: false }); // prettier-ignore
  });
});

describe("decisionAgreement", () => {
  const truth = ["go", "go", "go", "no-go", "no-go", "no-go"];
  const decisions = truth.flatMap((reference, part) =>
    ["A", "B"].flatMap((inspector) =>
      ["1", "2"].map((trial) => ({
        part: String(part),
        inspector,
        trial,
        // B passes the fourth part, which is bad, in his second trial.
        decision: inspector === "B" && part === 3 && trial === "2" ? "go" : reference,
        reference,
      })),
    ),
  );

  it("tells each inspector's agreement with himself, the other and the parts", () => {
    const estimate = decisionAgreement(decisions);
    if (!estimate.ok) throw new Error(estimate.reason);
    const { within, pairs, reference: against, alike } = estimate.value;
    expect(within?.map(({ alike: { agreed, of } }) => [agreed, of])).toEqual([[6, 6], [5, 6]]); // prettier-ignore
    expect([alike.agreed, alike.of]).toEqual([5, 6]);
    const [pair] = pairs;
    // By hand, 12 pairs: 11 agree; A says go 6 of 12, B 7 of 12: chance 1/2; kappa (11/12 - 1/2) / (1/2).
    expectDigits(pair?.kappa.ok ? pair.kappa.value.kappa : 0, 5 / 6, 12);
    expect(against?.map(({ right }) => right.agreed)).toEqual([6, 5]);
    expect(against?.[1]?.calls).toContainEqual({ reference: "no-go", decision: "go", count: 1, of: 6 });
  });

  it("names what is missing, and works without a reference or with one inspector", () => {
    expect(decisionAgreement(decisions.slice(1))).toMatchObject({
      ok: false,
      reason: expect.stringContaining("part 0, inspector A, trial 1"),
    });
    const without = decisionAgreement(decisions.map((each) => ({ ...each, reference: null })));
    expect(without.ok && without.value.reference).toBeNull();
    const alone = decisionAgreement(decisions.filter(({ inspector }) => inspector === "A"));
    expect(alone).toMatchObject({
      ok: true,
      value: { pairs: [] },
      warnings: [expect.stringContaining("one inspector")],
    });
    expect(() => decisionAgreement([...decisions, decisions[0]!])).toThrow(/twice/);
    expect(() => decisionAgreement([{ ...decisions[0]!, reference: "no-go" }, ...decisions.slice(1)])).toThrow(/one/);
  });
});
