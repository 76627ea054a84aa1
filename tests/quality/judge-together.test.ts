import { describe, expect, it } from "vitest";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { toldCharacteristics, toldJudgement } from "@/lib/format/judging-words";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { judgeOperations, type OperationEvidence } from "@/lib/quality/judge-operations";
import type { AskedEvidence } from "@/lib/quality/judge-together";

// Limits and U of the demonstration drawing press-fit 41 (invented). Bore 40.950 to 41.000, U 5.9 µm; coaxiality 100 µm.
const FULL = fullPlan(PRESS_FIT_41);
const ROUTINE = routinePlan(PRESS_FIT_41);
const BORES = FULL.filter(({ kind }) => kind === "bore");
const compiledOf = new Map<readonly ReadingName[], ReturnType<typeof compileMeasurement>>(
  [FULL, ROUTINE, BORES].map((names) => [names, compileMeasurement(names, PRESS_FIT_41)]),
);
const asked: AskedEvidence = {
  plan: "plan P1 revision 1",
  drawing: PRESS_FIT_41,
  compiled: compiledOf.get(FULL) ?? compileMeasurement(FULL, PRESS_FIT_41),
};
const RAD = Math.PI / 180;

function good(name: ReadingName): number | null {
  if (name.kind === "bore") return 40.975;
  if (name.kind === "width") return 86.5;
  return name.kind === "sweep" || name.kind === "face" ? 100 : null;
}

type Change = Readonly<Record<string, number | null>> | ((name: ReadingName) => number | null);

let made = 0;
function inspection(
  names: readonly ReadingName[] = FULL,
  change: Change = {},
  more: Partial<OperationEvidence> = {},
): OperationEvidence {
  made += 1;
  const compiled = compiledOf.get(names) ?? compileMeasurement(names, PRESS_FIT_41);
  return {
    key: `i${made}`,
    label: `inspection ${made}`,
    operationId: "machined",
    drawing: PRESS_FIT_41,
    compiled,
    readings: names.map((name) => {
      if (typeof change === "function") return change(name);
      const changed = change[formatReadingName(name)];
      return changed === undefined ? good(name) : changed;
    }),
    offScale: [],
    felt: null,
    temperatureC: null,
    doubts: [],
    planCounts: names === FULL,
    ...more,
  };
}

/** All bores of one size, the rest good. */
const bores =
  (size: number): Change =>
  (name) =>
    name.kind === "bore" ? size : good(name);
/** A parallel offset of the NDS seat, µm, towards a clock angle. */
const offset =
  (um: number, towardsDeg = 0): Change =>
  (name) =>
    name.kind === "sweep" ? 100 + um * Math.cos((name.angleDeg - towardsDeg) * RAD) : good(name);

const judged = (...list: readonly OperationEvidence[]) => {
  const evidence = judgeOperations(list, asked);
  if (evidence === null) throw new Error("nothing was judged");
  const { shown, reasons } = evidence;
  return {
    ...evidence,
    reasons: toldCharacteristics(reasons),
    shown: { ...shown, judgement: toldJudgement(shown.judgement) },
  };
};
const one = (evidence: ReturnType<typeof judged>, name: string, seat: string | null) =>
  evidence.shown.judgement.characteristics.find((each) => each.name === name && each.seat === seat);

describe("judging together", () => {
  it("judges one good inspection as itself", () => {
    expect(judged(inspection())).toMatchObject({ verdict: "conforms", holds: false, reasons: [] });
  });

  it("does not average three good inspections and a bad one, in any order", () => {
    const list = [inspection(), inspection(), inspection(), inspection(FULL, bores(41.05))];
    for (const order of [list, [...list].reverse(), [list[3], list[0], list[1], list[2]]]) {
      const evidence = judged(...order.flatMap((each) => each ?? []));
      expect(evidence).toMatchObject({ verdict: "does not conform", holds: true });
      const reason = evidence.reasons.find(({ name }) => name === "bore")?.reason ?? "";
      expect(reason).toContain("disagree");
      expect(reason).toContain("41.050 mm");
      expect(reason).toContain("40.975 mm");
    }
  });

  it("keeps a proven failure although all agree: 41.007 and 41.001 with U 5.9 µm", () => {
    // |41.007 - 41.001| = 6 µm <= sqrt(5.9^2 + 5.9^2) = 8.3 µm; 41.007 > 41.000 + 0.0059 is proven; their mean is not.
    const evidence = judged(inspection(FULL, bores(41.001)), inspection(FULL, bores(41.007)));
    expect(one(evidence, "bore", "ds")).toMatchObject({ verdict: "does not conform", value: 41.007 });
  });

  it("averages the features of inspections that agree and keeps their U", () => {
    const evidence = judged(inspection(FULL, bores(40.972)), inspection(FULL, bores(40.976)));
    const bore = one(evidence, "bore", "ds");
    expect(bore?.verdict).toBe("conforms");
    expect(bore?.smallest).toBeCloseTo(40.974, 9);
    expect(bore?.uncertainty).toBeCloseTo(0.0059, 4);
  });

  it("is not proven where two disagree that each conform, and holds what is not critical", () => {
    const evidence = judged(
      inspection(),
      inspection(FULL, (name) => (name.kind === "width" ? 86.58 : good(name))),
    );
    expect(one(evidence, "width", null)).toMatchObject({
      verdict: "not proven",
      code: "disagreement",
      critical: false,
    });
    expect(evidence.holds).toBe(true);
  });

  it("disagrees exactly beyond the root of the squares of both U", () => {
    const u = one(judged(inspection()), "bore", "ds")?.uncertainty ?? 0;
    const allowed = Math.hypot(u, u);
    expect(judged(inspection(FULL, bores(40.97)), inspection(FULL, bores(40.97 + allowed - 1e-6))).verdict).toBe(
      "conforms",
    );
    expect(judged(inspection(FULL, bores(40.97)), inspection(FULL, bores(40.97 + allowed + 1e-6))).verdict).toBe(
      "not proven",
    );
  });

  it("finds equal offsets to opposite sides, whose zones are alike", () => {
    const evidence = judged(inspection(FULL, offset(20)), inspection(FULL, offset(20, 180)));
    expect(one(evidence, "coaxiality", "nds")).toMatchObject({ verdict: "not proven", code: "disagreement" });
  });

  it("averages features, never readings of sweeps with different zeros", () => {
    // Two good sweeps, one with its zero 60 µm away and one angle missing: read angle by angle the mean had an offset.
    const missing: Change = (name) =>
      name.kind === "sweep" ? (name.angleDeg === 90 && name.depthMm === 8 ? null : 160) : good(name);
    const evidence = judged(inspection(), inspection(FULL, missing));
    expect(evidence.verdict).toBe("conforms");
    expect(one(evidence, "tilt", "nds")?.value).toBeCloseTo(0, 6);
  });
});

describe("a shorter plan", () => {
  const bad = () => inspection(FULL, offset(151));

  it("does not erase a failure that the full plan proved", () => {
    for (const shorter of [BORES, ROUTINE])
      for (const counts of [false, true]) {
        const evidence = judged(bad(), inspection(shorter, {}, { planCounts: counts }));
        expect(evidence).toMatchObject({ verdict: "does not conform", holds: true });
        expect(evidence.reasons.some(({ name }) => name === "coaxiality")).toBe(true);
      }
  });

  it("is not measured where the batch's plan asks for more, and says for what", () => {
    const evidence = judged(inspection(BORES, {}, { planCounts: false }));
    expect(evidence).toMatchObject({ verdict: "not measured", holds: true });
    expect(evidence.reasons.map(({ name }) => name)).toContain("coaxiality");
    const quarters = FULL.filter((name) => name.kind !== "sweep" || name.angleDeg % 90 === 0);
    const shorter = judged(inspection(quarters, {}, { planCounts: false }));
    expect(shorter.verdict).toBe("not measured");
    expect(shorter.reasons.find(({ name }) => name === "coaxiality")?.reason).toBe(
      "measured with less than plan P1 revision 1 asks for: 4 of 8 angles of the NDS sweep at 2 mm; 4 of 8 angles of the NDS sweep at 8 mm",
    );
  });

  it("counts where the batch's plan allows it by name", () => {
    expect(judged(inspection(BORES, {}, { planCounts: true })).verdict).toBe("conforms");
  });

  it("after a full one leaves the full one's evidence standing", () => {
    expect(judged(inspection(), inspection(BORES, {}, { planCounts: false })).verdict).toBe("conforms");
  });

  it("together with another that measured the rest is complete", () => {
    const rest = FULL.filter(({ kind }) => kind !== "bore");
    const both = [inspection(BORES, {}, { planCounts: false }), inspection(rest, {}, { planCounts: false })];
    expect(judged(...both).verdict).toBe("conforms");
  });

  it("keeps a width that cannot be measured the second time", () => {
    const wide: Change = (name) => (name.kind === "width" ? 87.5 : good(name));
    const cannot: Change = (name) => (name.kind === "width" ? null : good(name));
    expect(judged(inspection(FULL, wide), inspection(FULL, cannot)).verdict).toBe("does not conform");
    expect(judged(inspection(FULL, cannot), inspection(FULL, wide)).verdict).toBe("does not conform");
    expect(judged(inspection(), inspection(FULL, cannot)).verdict).toBe("conforms");
  });

  it("with a reading missing still disagrees by what it shows", () => {
    const partial: Change = (name) => {
      if (name.kind !== "bore") return good(name);
      return name.seat === "ds" && name.directionDeg === 0 && name.depthMm === 2 ? null : 40.96;
    };
    expect(one(judged(inspection(), inspection(FULL, partial)), "bore", "ds")).toMatchObject({ code: "disagreement" });
  });

  it("at another operation takes nothing back and is not asked for more", () => {
    const painted = { operationId: "painted", planCounts: false };
    expect(judged(inspection(), inspection(ROUTINE, {}, painted)).verdict).toBe("conforms");
    expect(judged(bad(), inspection(ROUTINE, {}, painted)).verdict).toBe("does not conform");
    expect(judged(inspection(), inspection(ROUTINE, bores(40.9), painted))).toMatchObject({
      verdict: "does not conform",
      holds: true,
    });
  });
});

describe("a doubt", () => {
  const reason = { code: "unseen-lobes", lobes: [3] } as const;
  const doubt = { name: "bore", seat: "ds", reason, alsoFailure: true, code: "blind" } as const;

  it("is answered by a reading without doubt that agrees, in either order", () => {
    const doubted = inspection(FULL, {}, { doubts: [doubt] });
    expect(judged(doubted).verdict).toBe("not proven");
    expect(judged(doubted, inspection()).verdict).toBe("conforms");
    expect(judged(inspection(), doubted).verdict).toBe("conforms");
  });

  it("of a gauge that was found out stands until that inspection is withdrawn", () => {
    const foundOut = inspection(FULL, {}, { doubts: [{ ...doubt, code: "zero-drifted" }] });
    expect(judged(foundOut, inspection()).verdict).toBe("not proven");
  });

  it("stands where the doubted reading says something else", () => {
    const doubted = inspection(FULL, bores(41.05), { doubts: [doubt] });
    expect(one(judged(doubted, inspection()), "bore", "ds")).toMatchObject({
      verdict: "not proven",
      code: "disagreement",
    });
  });
});

describe("any sequence of inspections", () => {
  const { uniform: random } = createSeededGenerator(20261130);
  const uniform = (from: number, to: number) => from + (to - from) * random();

  const anyInspection = (): OperationEvidence => {
    const size = uniform(40.94, 41.015);
    const [um, towards, angle] = [uniform(0, 80), uniform(0, 360), random()];
    const names = [FULL, FULL, ROUTINE, BORES][Math.floor(random() * 4)] ?? FULL;
    const swept = offset(um, towards) as (name: ReadingName) => number | null;
    const change = (name: ReadingName) => {
      if (random() < 0.01) return null;
      return name.kind === "bore" ? size + uniform(-0.003, 0.003) : angle < 0.5 ? swept(name) : good(name);
    };
    return inspection(names, change, { operationId: random() < 0.67 ? "machined" : "painted" });
  };

  it("has a verdict that does not depend on its order, and no further one takes a failure back", () => {
    for (let round = 0; round < 150; round += 1) {
      const list = Array.from({ length: 2 + Math.floor(random() * 4) }, anyInspection);
      const verdict = judged(...list).verdict;
      const shuffled = [...list].sort(() => random() - 0.5);
      expect(judged(...shuffled).verdict).toBe(verdict);
      const more = judged(...list, anyInspection());
      if (verdict === "does not conform") expect(more.verdict).toBe("does not conform");
      const disagree = judged(...list).reasons.some(({ code }) => code === "disagreement");
      if (disagree) expect(more).toMatchObject({ holds: true });
      // Bores alone, by a plan that does not count, never make up for what was not measured or not proven.
      const after = judged(...list, inspection(BORES, {}, { planCounts: false })).verdict;
      if (verdict === "does not conform") expect(after).toBe("does not conform");
      if (one(judged(...list), "coaxiality", "nds") === undefined) expect(after).not.toBe("conforms");
    }
  });
});
