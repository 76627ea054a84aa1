import { describe, expect, it } from "vitest";
import { compareGroups } from "@/lib/core/control/causes/compare-groups";
import { expectDigits } from "@/tests/helpers/expect-digits";

const A = [27.5, 21.0, 19.0, 23.6, 17.0, 17.9, 16.9, 20.1, 21.9, 22.6, 23.1, 19.6, 19.0, 21.7, 21.4];
const B = [27.1, 22.0, 20.8, 23.4, 23.4, 23.5, 25.8, 22.0, 24.8, 20.2, 21.9, 22.1, 22.9, 20.5, 24.4];
const C = [1.0, 2.0, 4.0, 3.5];
const group = (name: string, means: readonly number[]) => ({ name, cells: means.map((one) => [one]) });

describe("compareGroups", () => {
  it("compares two by Welch's t, and says what the data bear of each", () => {
    const [a, b] = compareGroups([group("A", A), group("B", B)]);
    // SciPy 1.17.1, stats.ttest_ind(equal_var=False) and stats.t.ppf
    expectDigits(a?.pValue ?? 0, 0.021378001462866992, 10);
    expectDigits(b?.pValue ?? 0, 0.021378001462866992, 10);
    expectDigits(a?.interval?.[0] ?? 0, 19.26670165245124, 10);
    expectDigits(a?.interval?.[1] ?? 0, 22.373298347548754, 10);
  });

  it("compares each of several with all others, each chance times their number", () => {
    const found = compareGroups([group("A", A), group("B", B), group("C", C)]);
    // SciPy 1.17.1, times three
    const expected = [3 * 0.3295586320172038, 3 * 0.005025532156390741, 3 * 2.0194168736217533e-7];
    found.forEach(({ pValue }, at) => expectDigits(pValue ?? 0, expected[at] ?? 0, 9));
  });

  it("takes what cells differ by for what the group may differ by, however many values they have", () => {
    const cells = [0, 4, 8].map((level) => Array.from({ length: 500 }, (_, at) => level + (at % 2)));
    const [one] = compareGroups([{ name: "one", cells }]);
    // Cell means 0.5, 4.5, 8.5: mean 4.5, sd 4, half width 4.3026527 * 4 / sqrt(3), t table of 2 degrees.
    expectDigits((one?.interval?.[1] ?? 0) - (one?.mean ?? 0), (4.3026527 * 4) / Math.sqrt(3), 7);
    expect(one?.count).toBe(1500);
    // Half the values 0.5 above, half below: sqrt(1500 * 0.25 / (1500 - 3)).
    expectDigits(one?.sd ?? 0, Math.sqrt((1500 * 0.25) / 1497), 12);
  });

  it("says nothing of one cell, of one group, nor of groups that do not vary", () => {
    const [one, other] = compareGroups([group("one", [3]), group("other", [1, 2, 3])]);
    expect(one).toMatchObject({ interval: null, pValue: null, difference: 1, sd: null });
    expect(other?.pValue).toBeNull();
    expect(compareGroups([group("alone", [1, 2])])[0]).toMatchObject({ difference: null, pValue: null });
    expect(compareGroups([group("a", [1, 1]), group("b", [1, 1])])[0]?.pValue).toBeNull();
    expect(() => compareGroups([])).toThrow(/at least 1/);
    expect(() => compareGroups([{ name: "none", cells: [] }])).toThrow(/cell/);
  });
});
