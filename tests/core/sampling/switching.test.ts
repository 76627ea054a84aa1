import { describe, expect, it } from "vitest";
import { afterInspectedLots, afterLot, type JudgedLot, SWITCHING_START } from "@/lib/core/sampling/switching";

// Rules: ISO 2859-1:1999 clause 9, from memory; sequences counted by hand.
const good: JudgedLot = { isAccepted: true, ac: 0, isAcceptedTighter: true, isSteady: true, isReducedWanted: true };
const bad = { ...good, isAccepted: false, isAcceptedTighter: false };
const after = (lots: readonly JudgedLot[], from = SWITCHING_START) => lots.reduce(afterLot, from);
const many = (count: number, lot: JudgedLot) => Array.from({ length: count }, () => lot);

describe("afterLot", () => {
  it("tightens at two refused lots of five, not at two of six", () => {
    expect(after([bad, bad]).severity).toBe("tightened");
    expect(after([bad, good, good, good, bad]).severity).toBe("tightened");
    expect(after([bad, good, good, good, good, bad]).severity).toBe("normal");
  });

  it("goes back to normal after five accepted lots in a row", () => {
    const tightened = after([bad, bad]);
    expect(after(many(4, good), tightened).severity).toBe("tightened");
    expect(after(many(5, good), tightened)).toMatchObject({ severity: "normal", score: 0, newest: [] });
    expect(after([...many(4, good), bad, ...many(4, good)], tightened).severity).toBe("tightened");
  });

  it("ends at five refused lots of tightened inspection", () => {
    const ended = after([...many(4, bad), good, good, bad], after([bad, bad]));
    expect(ended).toMatchObject({ isDiscontinued: true, severity: "tightened" });
    expect(afterLot(ended, good)).toBe(ended);
  });

  it("reduces at a score of 30: fifteen lots with Ac 0 or 1, ten with more that the tighter AQL accepts, too", () => {
    expect(after(many(14, good))).toMatchObject({ severity: "normal", score: 28 });
    expect(after(many(15, good)).severity).toBe("reduced");
    expect(after(many(10, { ...good, ac: 3 })).severity).toBe("reduced");
    expect(after([...many(9, { ...good, ac: 3 }), { ...good, ac: 3, isAcceptedTighter: false }]).score).toBe(0);
    expect(after([...many(14, good), bad]).score).toBe(0);
  });

  it("reduces only while production is steady and somebody wants it", () => {
    expect(after(many(20, { ...good, isSteady: false })).severity).toBe("normal");
    expect(after(many(20, { ...good, isReducedWanted: false }))).toMatchObject({ severity: "normal", score: 40 });
  });

  it("leaves reduced inspection at a refused lot or unsteady production", () => {
    const reduced = after(many(15, good));
    expect(afterLot(reduced, good).severity).toBe("reduced");
    for (const lot of [bad, { ...good, isSteady: false }])
      expect(afterLot(reduced, lot)).toMatchObject({ severity: "normal", score: 0 });
  });
});

describe("afterInspectedLots", () => {
  const scheme = { level: "II", aql: 1, isReducedWanted: true } as const;
  const found = (...counts: number[]) =>
    afterInspectedLots(
      scheme,
      counts.map((nonconforming) => ({ lot: 1000, nonconforming, isSteady: true })),
    );

  // Letter J: 2/3 at AQL 1 and 1/2 at 0.65 when normal, 1/2 at AQL 1 when tightened (tables 2-A and 2-B).
  it("judges each lot by the plan of its turn, and by the next tighter AQL for the score", () => {
    expect(found(2, 2, 2)).toMatchObject({ severity: "normal", score: 0 });
    expect(found(1, 0, 1)).toMatchObject({ severity: "normal", score: 9 });
    expect(found(3, 0, 3)).toMatchObject({ severity: "tightened", newest: [] });
    expect(found(3, 0, 3, 2)).toMatchObject({ severity: "tightened", newest: [false], refusedTightened: 1 });
    expect(found(3, 3, 1, 1, 1, 1, 1)).toMatchObject({ severity: "normal", score: 0 });
    expect(found(...Array.from({ length: 10 }, () => 1)).severity).toBe("reduced");
  });
});
