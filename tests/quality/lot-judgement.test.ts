import { describe, expect, it } from "vitest";
import { SWITCHING_START, type SwitchingState } from "@/lib/core/sampling/switching";
import { afterJudgement, type LotFrame, lotJudgement, type LotSize } from "@/lib/quality/lot-judgement";
import { framesOfPlan, lotPlan, type LotScheme } from "@/lib/quality/lot-plan";

const COUNTING: LotScheme = { kind: "iso-2859-1", level: "II", aql: 4, reducedWanted: true };
const frames = (count: number, change: (at: number) => Partial<LotFrame> = () => ({})): LotFrame[] =>
  Array.from({ length: count }, (_, at) => ({
    serial: `F-${at}`,
    isSample: true,
    isMeasured: true,
    hasFailed: false,
    isDoubtful: false,
    against: [],
    ...change(at),
  }));

describe("a batch by its plan", () => {
  // ISO 2859-1:1999 tables 1 and 2-A: lot 60, level II, AQL 4 -> letter E, 13, Ac 1, Re 2.
  it("is accepted with as many against it as the plan bears, refused with one more", () => {
    const plan = lotPlan(COUNTING, 60, SWITCHING_START);
    expect(plan).toMatchObject({ usedCode: "E", n: 13, ac: 1, re: 2 });
    const failing = (count: number) => frames(13, (at) => ({ hasFailed: at < count }));
    expect(lotJudgement(plan, failing(1), [])).toMatchObject({ state: "accepted", found: ["F-0"] });
    expect(lotJudgement(plan, failing(2), [])).toMatchObject({ state: "refused", found: ["F-0", "F-1"] });
  });

  // Common practice, no source: not proven counts against acceptance.
  it("counts what is not proven, and waits until the sample is measured unless enough were found", () => {
    const plan = lotPlan(COUNTING, 60, SWITCHING_START);
    expect(
      lotJudgement(
        plan,
        frames(13, (at) => ({ isDoubtful: at < 2 })),
        [],
      ).state,
    ).toBe("refused");
    expect(
      lotJudgement(
        plan,
        frames(13, (at) => ({ isMeasured: at < 12 })),
        [],
      ).state,
    ).toBe("measuring");
    const early = frames(13, (at) => ({ isMeasured: at < 3, hasFailed: at < 2 }));
    expect(lotJudgement(plan, early, []).state).toBe("refused");
  });

  it("is measured whole where the lot is one, where the sample is as large, and where sampling has ended", () => {
    expect(lotPlan(COUNTING, 1, SWITCHING_START).whole).toBe("lot-of-one");
    expect(framesOfPlan(lotPlan(COUNTING, 2, SWITCHING_START))).toEqual({ kind: "all" });
    const ended: SwitchingState = { ...SWITCHING_START, severity: "tightened", isDiscontinued: true };
    expect(lotPlan(COUNTING, 60, ended)).toMatchObject({ whole: "sampling-ended", n: 60 });
  });

  // Q = (U - mean) / s by hand: 1, 2, 3, 4, 5, 6, 7 have mean 4 and s = sqrt(28 / 6) = 2.1602.
  it("by variables holds the mean's distance from the limit against k, and counts form by itself", () => {
    const scheme: LotScheme = {
      kind: "iso-3951-1",
      method: "s",
      level: "II",
      aql: 1,
      sigmaMm: {},
      reducedWanted: false,
    };
    const plan = lotPlan(scheme, 60, SWITCHING_START);
    // ISO 3951:1989 table II-A: letter E, AQL 1.
    expect(plan).toMatchObject({ n: 7, k: 1.62 });
    const size = (limit: number): LotSize => ({
      name: "bore",
      seat: "ds",
      side: "upper",
      limit,
      values: [1, 2, 3, 4, 5, 6, 7],
    });
    const at = (limit: number) => lotJudgement(plan, frames(7), [size(limit)]);
    expect(at(7.49).state).toBe("refused");
    expect(at(7.51).state).toBe("accepted");
    expect(at(7.51).statistics[0]?.q).toBeCloseTo(3.51 / Math.sqrt(28 / 6), 12);
    // One beyond the limit, as the standard allows where Q is met; an oval one never.
    const own = (name: "bore" | "ovality") =>
      frames(7, (place) => ({ hasFailed: place === 0, against: place === 0 ? [name] : [] }));
    expect(lotJudgement(plan, own("bore"), [size(7.51)]).state).toBe("accepted");
    expect(lotJudgement(plan, own("ovality"), [size(7.51)]).state).toBe("refused");
    const sigma: LotScheme = { ...scheme, method: "sigma", sigmaMm: { bore: 2 } };
    const known = lotPlan(sigma, 60, SWITCHING_START);
    const statistic = lotJudgement(known, frames(known.n), [size(8)]).statistics[0];
    expect(statistic).toMatchObject({ sd: 2, q: 2 });
  });

  it("by variables does not hold for values that are not normally distributed", () => {
    const scheme: LotScheme = {
      kind: "iso-3951-1",
      method: "s",
      level: "II",
      aql: 1,
      sigmaMm: {},
      reducedWanted: false,
    };
    const plan = lotPlan(scheme, 280, SWITCHING_START);
    const values = Array.from({ length: plan.n }, (_, at) => (at < plan.n - 2 ? 1 + at * 0.001 : 9));
    const judged = lotJudgement(plan, frames(plan.n), [
      { name: "bore", seat: "ds", side: "upper", limit: 100, values },
    ]);
    expect(judged).toMatchObject({ state: "refused", statistics: [{ isNotNormal: true, isMet: false }] });
  });

  // ISO 2859-1:1999 clause 9.3.3.2 (from memory): Ac 0 or 1: 2 for each accepted lot; reduced from a score of 30.
  it("leads to reduced inspection after fifteen accepted batches where it is wanted", () => {
    let state = SWITCHING_START;
    for (let lot = 1; lot <= 15; lot += 1) {
      expect(state.severity).toBe("normal");
      const plan = lotPlan(COUNTING, 60, state);
      state = afterJudgement(state, lotJudgement(plan, frames(plan.n), []));
    }
    expect(state.severity).toBe("reduced");
  });
});
