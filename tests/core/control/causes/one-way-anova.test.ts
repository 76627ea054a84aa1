import { describe, expect, it } from "vitest";
import { oneWayAnova } from "@/lib/core/control/causes/one-way-anova";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/strd-anova.json";

type Case = (typeof reference)["cases"][number];

/** Digits that double precision allows: the offsets of the later sets leave fewer digits in the data themselves. */
const DIGITS: Readonly<Record<string, number>> = {
  "strd-anova-SiRstv": 12,
  "strd-anova-SmLs01": 13,
  "strd-anova-SmLs02": 13,
  "strd-anova-SmLs03": 12,
  "strd-anova-SmLs04": 9,
  "strd-anova-SmLs05": 9,
  // 10^12 + 0.4 is stored to 6e-5 only: no algorithm can give more.
  "strd-anova-SmLs07": 2,
  "strd-anova-SmLs08": 2,
};

function groupsOf({ input }: Case): number[][] {
  if ("groups" in input && input.groups !== undefined)
    return Object.values(input.groups as unknown as Record<string, number[]>);
  const {
    group_first_values: first,
    group_second_values: second,
    group_third_values: third,
    n_per_group: n,
  } = input as {
    group_first_values: string[];
    group_second_values: string[];
    group_third_values: string[];
    n_per_group: number;
  };
  return first.map((head, place) =>
    Array.from({ length: n }, (_, index) =>
      Number(index === 0 ? head : index % 2 === 1 ? second[place] : third[place]),
    ),
  );
}

describe("oneWayAnova", () => {
  it.each(reference.cases.map((each) => [each.id, each] as const))("gives the certified values of %s", (id, each) => {
    const answer = oneWayAnova(groupsOf(each));
    if (!answer.ok) throw new Error(answer.reason);
    const { value } = answer;
    const digits = DIGITS[id] ?? 9;
    expect([value.between.degrees, value.within.degrees]).toEqual([each.expected.df_between, each.expected.df_within]);
    expectDigits(value.between.sumOfSquares, each.expected.ss_between, digits);
    expectDigits(value.within.sumOfSquares, each.expected.ss_within, digits);
    expectDigits(value.f ?? 0, each.expected.F, digits);
    expectDigits(value.rSquared, each.expected.r_squared, digits);
    expectDigits(value.residualSd, each.expected.residual_sd, digits);
  });

  it("does not change with the order of groups, and turns with shift and scale", () => {
    const groups = [
      [1.2, 1.5, 1.1],
      [2.2, 2.4],
      [0.7, 0.9, 1.4, 1],
    ];
    const f = (list: number[][]) => {
      const answer = oneWayAnova(list);
      return answer.ok ? (answer.value.f ?? 0) : 0;
    };
    expectDigits(f([...groups].reverse()), f(groups), 12);
    expectDigits(f(groups.map((group) => group.map((value) => 1024 * value - 4096))), f(groups), 9);
  });

  it("says why there is no answer, and refuses wrong input", () => {
    expect(oneWayAnova([[1, 1], [1]])).toMatchObject({ ok: false });
    expect(oneWayAnova([[1, 1], [2]])).toMatchObject({ ok: true, value: { f: null } });
    expect(() => oneWayAnova([[1, 2]])).toThrow(/at least 2/);
    expect(() => oneWayAnova([[1], []])).toThrow(/every group/);
    expect(() => oneWayAnova([[1], [2]])).toThrow(/more than groups/);
    expect(() => oneWayAnova([[1, Number.NaN], [2]])).toThrow(/finite/);
  });
});
