import { describe, expect, it } from "vitest";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, plugsAndBarPlan } from "@/lib/core/metrology/measuring-plan";
import { parseReadingName, type BarPassage, type PlugFeel, type ReadingName } from "@/lib/core/metrology/reading-name";
import { toldCharacteristic } from "@/lib/format/judging-words";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { feltOf } from "@/lib/quality/felt-evidence";
import type { InspectionEvidence } from "@/lib/quality/inspection-evidence";
import { asksAtLeast, judgeTogether } from "@/lib/quality/judge-together";

// Feel and bars: common practice, no source; U 2 µm of a plug, 5.9 µm of a reading, 0.573' of a bar, by hand.

type Words = { plugs?: Record<string, PlugFeel>; bars?: Record<string, BarPassage> };

const named = (text: string): ReadingName => {
  const name = parseReadingName(text);
  if (!name.ok) throw new Error(text);
  return name.value;
};
const compiled = (names: readonly ReadingName[]) => compileMeasurement(names, PRESS_FIT_41);

function inspection(
  label: string,
  names: readonly ReadingName[],
  sizeMm: number | null,
  words: Words = {},
): InspectionEvidence {
  return {
    key: label,
    label,
    drawing: PRESS_FIT_41,
    compiled: compiled(names),
    readings: names.map(({ kind }) => {
      if (kind === "plug" || kind === "bar" || sizeMm === null) return null;
      return kind === "bore" ? sizeMm : kind === "width" ? 86.5 : 0;
    }),
    offScale: [],
    planCounts: true,
    felt: feltOf(words),
    temperatureC: null,
    doubts: [],
  };
}

const FULL = fullPlan(PRESS_FIT_41);
const read = (label: string, sizeMm = 40.975) => inspection(label, FULL, sizeMm);
const PLUG = [named("ds.plug.40.955")];
const plug = (label: string, feel: PlugFeel) => inspection(label, PLUG, null, { plugs: { "ds.plug.40.955": feel } });

function bore(inspections: readonly InspectionEvidence[]) {
  const together = judgeTogether(inspections, null);
  const judged = together?.judgement.characteristics.find(({ name, seat }) => name === "bore" && seat === "ds");
  return judged === undefined ? undefined : toldCharacteristic(judged);
}

describe("felt evidence of one inspection against readings of another", () => {
  it("contradicts beyond both U in either order, and names both", () => {
    // 40.975 against at most 40.955: 20 µm, over 5.9 + 2.
    for (const order of [
      [read("the first"), plug("the second", "no")],
      [plug("the second", "no"), read("the first")],
    ]) {
      const judged = bore(order);
      expect(judged).toMatchObject({ verdict: "not proven", code: "felt-contradicts", alwaysHolds: true });
      expect(judged?.reason).toContain("the first 40.975 mm");
      expect(judged?.reason).toContain("the second by plugs or bar at most 40.955 mm");
    }
    expect(bore([read("one", 40.96), plug("two", "no")])?.verdict).toBe("conforms");
    expect(bore([read("one"), plug("two", "slides")])?.verdict).toBe("conforms");
    // The plug entered a seat that reads 15 µm smaller: the failure that the readings prove stays.
    expect(bore([read("one", 40.94), plug("two", "slides")])?.verdict).toBe("does not conform");
  });

  it("stays what it was when it is tried again until the bar passes", () => {
    const names = [...FULL, named("bar.A")];
    const rejected = inspection("one", names, 40.975, { bars: { "bar.A": { result: "no" } } });
    const passed = inspection("two", names, 40.975, { bars: { "bar.A": { result: "free" } } });
    const together = judgeTogether([rejected, passed], null);
    expect(together?.judgement.verdict).toBe("not proven");
    expect(together?.judgement.holdsFrame).toBe(true);
    const stiff = inspection("three", [named("bar.B")], null, { bars: { "bar.B": { result: "no" } } });
    const free = inspection("four", [named("bar.B")], null, { bars: { "bar.B": { result: "free" } } });
    expect(judgeTogether([stiff, free], null)?.judgement.verdict).toBe("not proven");
  });
});

describe("measuring again with another gauge", () => {
  const names = [...FULL, named("bar.A")];
  type Result = BarPassage["result"];
  type Gauges = { readonly bar: string | null; readonly sweep?: string };
  const sensed = (label: string, result: Result, { bar, sweep = "indicator 1" }: Gauges): InspectionEvidence => ({
    ...inspection(label, names, 40.975, {
      bars: { "bar.A": result === "stiff" ? { result, clockDeg: 0 } : { result } },
    }),
    gauges: names.map(({ kind }) => (kind === "bar" ? bar : kind === "sweep" ? sweep : "other")),
  });
  const verdict = (...list: InspectionEvidence[]) => judgeTogether(list, null)?.judgement.verdict;
  const rejected = sensed("one", "no", { bar: "bar 1" });

  it("ends it where the other bar passes, and not where the same one does, nor one without a name", () => {
    expect(verdict(rejected, sensed("two", "free", { bar: "bar 2" }))).toBe("conforms");
    expect(verdict(rejected, sensed("two", "free", { bar: "bar 1" }))).toBe("not proven");
    expect(verdict(rejected, sensed("two", "free", { bar: null }))).toBe("not proven");
    // Another indicator beside the same bar, which passes now: the bar contradicts itself.
    expect(verdict(rejected, sensed("two", "free", { bar: "bar 1", sweep: "indicator 2" }))).toBe("not proven");
    // Another bar that was not tried at the set that rejected.
    const untried = { ...inspection("two", FULL, 40.975), gauges: FULL.map(() => "other") };
    expect(verdict(rejected, untried)).toBe("not proven");
  });

  it("has to come later, and settles nothing that two bars found or that the first one finds again", () => {
    const passed = sensed("two", "free", { bar: "bar 2" });
    expect(verdict(passed, rejected)).toBe("not proven");
    expect(verdict(rejected, passed, sensed("three", "no", { bar: "bar 1" }))).toBe("not proven");
    expect(verdict(rejected, sensed("two", "no", { bar: "bar 3" }), passed)).toBe("not proven");
  });

  it("ends it where readings by another gauge agree with the same plug, felt alike", () => {
    const plugged = [...FULL, ...PLUG];
    const sized = (label: string, sizeMm: number, feel: PlugFeel, gauge: string): InspectionEvidence => ({
      ...inspection(label, plugged, sizeMm, { plugs: { "ds.plug.40.955": feel } }),
      gauges: plugged.map(({ kind }) => (kind === "bore" ? gauge : kind === "plug" ? "plug 1" : "other")),
    });
    // 40.940 conforms to nothing and the plug of 40.955 slides: 15 µm apart, over 5.9 + 2.
    const wrong = sized("one", 40.94, "slides", "bore 1");
    const ds = (...list: InspectionEvidence[]) => bore(list)?.verdict;
    expect(ds(wrong)).toBe("not proven");
    expect(ds(wrong, sized("two", 40.975, "slides", "bore 2"))).toBe("conforms");
    expect(ds(wrong, sized("two", 40.975, "slides", "bore 1"))).not.toBe("conforms");
    expect(ds(wrong, sized("two", 40.975, "hand", "bore 2"))).not.toBe("conforms");
  });
});

describe("what a plan of plugs and bars asks for", () => {
  const plugs = compiled(plugsAndBarPlan(PRESS_FIT_41));

  it("is given by the full plan, whose readings say more than bounds", () => {
    expect(asksAtLeast(compiled(FULL), plugs)).toBe(true);
    expect(asksAtLeast(plugs, compiled(FULL))).toBe(false);
  });

  it("has its trials beside readings, too", () => {
    expect(asksAtLeast(compiled(FULL), compiled([...FULL, ...PLUG]))).toBe(false);
    expect(asksAtLeast(compiled([...FULL, ...PLUG]), compiled(FULL))).toBe(true);
  });
});
