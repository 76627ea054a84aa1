import { describe, expect, it } from "vitest";
import { PLANS, runMeasuringRoom, type Share } from "./tally";

const SHELLS = Number(process.env.HONESTY_SHELLS ?? 1500);

/** Upper bound that a share may reach where its true value is at most `percent`: three standard errors more. */
function most(percent: number, { of }: Share): number {
  return percent / 100 + 3 * Math.sqrt((percent * (100 - percent)) / 10_000 / Math.max(of, 1));
}

const share = ({ hits, of }: Share): number => (of === 0 ? 0 : hits / of);

// Goals: the table in README. The whole table: npm run bench honesty.
describe("the simulated measuring room", () => {
  const { groups, coverage } = runMeasuringRoom({ shells: SHELLS, seed: 5 });

  it("passes no more than 2.5 % of the shells that are outside a critical limit by more than U, by any defect, plan or trouble", () => {
    for (const [key, { passedBad }] of groups) expect(share(passedBad), key).toBeLessThanOrEqual(most(2.5, passedBad));
    for (const plan of PLANS) expect(groups.get(`${plan}, all`)?.passedBad.of).toBeGreaterThan(100);
  });

  it("condemns no more than 2.5 % of those inside all limits by more than U, and leaves few open that are well inside", () => {
    for (const plan of PLANS) {
      const all = groups.get(`${plan}, all`);
      if (all === undefined) throw new Error(plan);
      expect(share(all.condemnedGood), plan).toBeLessThanOrEqual(most(2.5, all.condemnedGood));
      expect(share(all.leftOpenWellInside), plan).toBeLessThanOrEqual(most(5, all.leftOpenWellInside));
      expect(all.condemnedGood.of).toBeGreaterThan(300);
    }
  });

  it("states a U that covers the error of every characteristic, beyond it to the shell's favour in 3 % at most", () => {
    expect(coverage.size).toBeGreaterThan(15);
    for (const [key, { covered, flattered }] of coverage) {
      expect(share(flattered), key).toBeLessThanOrEqual(most(3, flattered));
      expect(1 - share(covered), key).toBeLessThanOrEqual(most(7, covered));
    }
  });
});
