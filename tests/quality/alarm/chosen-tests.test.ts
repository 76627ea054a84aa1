import { describe, expect, it } from "vitest";
import { CHOSEN_TESTS } from "@/lib/core/control/alarm/chosen-test";
import { chosenTestFacts, chosenTestMarks } from "@/lib/quality/alarm/chosen-tests";

describe("chosenTestFacts", () => {
  it("gives zone tests the run length that they have, and says what they would take of the budget", () => {
    const { runLength, share } = chosenTestFacts("zone-tests", 8580);
    // Champ and Woodall 1987, Technometrics 29 393-399: 91.75
    expect(Math.abs(runLength - 91.75)).toBeLessThan(0.005);
    expect(Math.abs(share - 8580 / 91.75)).toBeLessThan(0.01);
  });

  it("sets the others to the budget, one sum being the quickest at one sd", () => {
    // Moustakides 1986 by the integral equation in another program: 16.172 at a run length of 8,580
    expect(Math.abs(chosenTestFacts("one-sum", 8580).delay - 16.172)).toBeLessThan(0.005);
    for (const test of CHOSEN_TESTS) {
      if (test === "zone-tests" || test === "eight-tests") continue;
      const { share, delay } = chosenTestFacts(test, 8580);
      expect(share).toBe(1);
      expect(delay).toBeGreaterThanOrEqual(chosenTestFacts("one-sum", 8580).delay);
    }
    expect(chosenTestFacts("ewma", 1e7)).toMatchObject({ runLength: 1e6, share: 10 });
  });
});

describe("chosenTestMarks", () => {
  const still = (frames: number) => Array.from({ length: frames }, (_, at) => (at % 2 === 0 ? 0.2 : -0.2));

  it("marks nothing of scores that hardly move, and of no scores", () => {
    for (const test of CHOSEN_TESTS) {
      // fourteen that go up and down in turn, and fifteen near the centre, are patterns of the eight tests (Nelson 1984)
      if (test !== "eight-tests") expect(chosenTestMarks(test, still(60), 8580)).toEqual([]);
      expect(chosenTestMarks(test, [], 8580)).toEqual([]);
    }
    expect(chosenTestMarks("eight-tests", still(15), 8580)).toContain(13);
  });

  it("marks a far score, eight on one side, and a level that moved", () => {
    // normal table: beyond 4 on both sides one in 15,787, so that the limit for 8,580 lies under it
    expect(chosenTestMarks("limit-only", [...still(20), 5, ...still(3)], 8580)).toEqual([20]);
    // 1956 handbook: eight in a row on one side, the eighth signals
    expect(chosenTestMarks("zone-tests", [0.1, 0.2, 0.1, 0.2, 0.1, 0.2, 0.1, 0.2], 8580)).toEqual([7]);
    // by hand: each score of 2 adds 1.5. On both sides 8,580 is on one side 17,160: 7.90, between the 6.9562 for 6,667 and the 8.0053
    // for 19,067 of another program, by the logarithm; the sixth passes it
    const moved = [...new Array<number>(20).fill(0), ...new Array<number>(6).fill(2)];
    expect(chosenTestMarks("one-sum", moved, 8580)).toEqual([25]);
    expect(chosenTestMarks("ewma", [...moved, ...new Array<number>(20).fill(2)], 8580).length).toBeGreaterThan(0);
  });
});
