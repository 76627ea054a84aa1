import { describe, expect, it } from "vitest";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, plugsAndBarPlan } from "@/lib/core/metrology/measuring-plan";
import {
  formatReadingName,
  parseReadingName,
  type BarPassage,
  type PlugFeel,
  type ReadingName,
} from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { toldJudgement } from "@/lib/format/judging-words";
import { PRESS_FIT_41, PRESS_FIT_46 } from "@/lib/quality/demonstration-drawings";
import { feltOf } from "@/lib/quality/felt-evidence";
import { judgeInspection } from "@/lib/quality/judge-inspection";

// Feel and bar: common practice, no published source. Bounds by hand: a plug ±2 µm; the usual bar with 20 µm of clearance over
// 12 mm is free up to 15/12 mrad = 4.297', stiff up to 20/12 mrad = 5.730', each ±2/12 mrad = 0.573'.

type Words = { plugs?: Record<string, PlugFeel>; bars?: Record<string, BarPassage> };
type Shell = {
  readonly sizeMm?: number;
  readonly ndsSlopeUmPerMm?: number;
  readonly ovalUm?: number;
  readonly offsetUm?: number;
};

const RAD = Math.PI / 180;

function named(text: string): ReadingName {
  const name = parseReadingName(text);
  if (!name.ok) throw new Error(name.reason);
  return name.value;
}

/** Readings of round seats in line, the NDS seat tilted by a slope towards 12. */
function readingOf(name: ReadingName, shell: Shell): number | null {
  switch (name.kind) {
    case "bore":
      return (shell.sizeMm ?? 40.975) + ((shell.ovalUm ?? 0) / 2000) * Math.cos(2 * name.directionDeg * RAD);
    case "sweep":
      return (
        ((shell.offsetUm ?? 0) + (shell.ndsSlopeUmPerMm ?? 0) * (name.depthMm - 5)) * Math.cos(name.angleDeg * RAD)
      );
    case "face":
      return 0;
    case "width":
      return 86.5;
    default:
      return null;
  }
}

function judged(
  given: {
    names?: readonly ReadingName[];
    shell?: Shell;
    words?: Words;
    drawing?: ShellDrawing;
    temperatureC?: number;
  } = {},
) {
  const { names = fullPlan(PRESS_FIT_41), shell = {}, words = {}, drawing = PRESS_FIT_41, temperatureC = null } = given;
  const compiled = compileMeasurement(names, drawing);
  const { judgement } = judgeInspection({
    key: "one",
    label: "this inspection",
    drawing,
    compiled,
    readings: names.map((name) => readingOf(name, shell)),
    offScale: [],
    felt: words.plugs === undefined && words.bars === undefined ? null : feltOf(words),
    temperatureC,
    planCounts: true,
    doubts: [],
  });
  const find = (name: string, seat: string | null) =>
    toldJudgement(judgement).characteristics.find((one) => one.name === name && one.seat === seat);
  return { ...judgement, find };
}

const felt = (...texts: string[]): ReadingName[] => texts.map(named);
const withFelt = (...texts: string[]): ReadingName[] => [...fullPlan(PRESS_FIT_41), ...felt(...texts)];
const NO: BarPassage = { result: "no" };
const FREE: BarPassage = { result: "free" };
const STIFF: BarPassage = { result: "stiff", clockDeg: 60 };

describe("felt evidence against readings", () => {
  it("does not prove a frame whose readings conform while the bar does not pass", () => {
    const { verdict, holdsFrame, find } = judged({ names: withFelt("bar.A"), words: { bars: { "bar.A": NO } } });
    expect(verdict).toBe("not proven");
    expect(holdsFrame).toBe(true);
    for (const seat of ["ds", "nds"]) {
      const tilt = find("tilt", seat);
      expect(tilt).toMatchObject({
        verdict: "not proven",
        code: "felt-contradicts",
        critical: true,
        alwaysHolds: true,
      });
      expect(tilt?.reason).toContain("bar A will not pass, yet the readings give a tilt of 0.0 arc minutes");
      expect(tilt?.reason).toContain("bar bent or dirty");
    }
    expect(find("bore", "ds")?.verdict).toBe("conforms");
  });

  it("does not prove a seat whose readings conform while the GO plug does not enter, and names the causes", () => {
    const words = { plugs: { "nds.plug.40.95": "no" } as const };
    const { verdict, find } = judged({ names: withFelt("nds.plug.40.95"), words });
    expect(verdict).toBe("not proven");
    const bore = find("bore", "nds");
    // 40.975 against 40.95: 25 - 5.9 - 2 = 17 µm.
    expect(bore).toMatchObject({ verdict: "not proven", code: "felt-contradicts", alwaysHolds: true });
    expect(bore?.reason).toMatch(
      /plug 40\.95 does not enter, yet the smallest reading is 40\.975 mm, 17 µm beyond both/,
    );
    expect(bore?.reason).toMatch(/odd lobes, which a two-point gauge does not see/);
    expect(find("bore", "ds")?.verdict).toBe("conforms");
  });

  it("does not let a proven size stand that a plug contradicts", () => {
    const words = { plugs: { "ds.plug.40.96": "slides" } as const };
    const { find } = judged({ names: withFelt("ds.plug.40.96"), words, shell: { sizeMm: 40.93 } });
    expect(find("bore", "ds")).toMatchObject({ verdict: "not proven", code: "felt-contradicts" });
    expect(find("bore", "nds")?.verdict).toBe("does not conform");
  });

  it("says that it does not conform where both find the limit broken", () => {
    // 40.947 read, within U of 40.950: not proven by itself; the plug 40.94 that does not enter is 8 µm beyond.
    const names = withFelt("ds.plug.40.94");
    const alone = judged({ names: fullPlan(PRESS_FIT_41), shell: { sizeMm: 40.947 } });
    expect(alone.find("bore", "ds")?.verdict).toBe("not proven");
    const both = judged({ names, shell: { sizeMm: 40.947 }, words: { plugs: { "ds.plug.40.94": "no" } } });
    expect(both.find("bore", "ds")).toMatchObject({ verdict: "does not conform", code: "felt-breaks-limit" });
  });

  it("agrees with a sweep that finds the seats out of line", () => {
    // A slope of 2 µm per mm is 6.9', over 4' by more than 1'.
    const names = withFelt("bar.A");
    const { find } = judged({ names, shell: { ndsSlopeUmPerMm: 2 }, words: { bars: { "bar.A": NO } } });
    expect(find("tilt", "nds")?.verdict).toBe("does not conform");
    expect(find("tilt", "ds")?.verdict).toBe("conforms");
    // 4.5' is not proven by the sweep alone; the bar that does not pass decides: 5.7' - 0.6' > 4'.
    const slope = { ndsSlopeUmPerMm: 1.31 };
    expect(judged({ shell: slope }).find("tilt", "nds")?.verdict).toBe("not proven");
    const near = judged({ names, shell: slope, words: { bars: { "bar.A": NO } } });
    expect(near.find("tilt", "nds")?.verdict).toBe("does not conform");
  });

  it("contradicts a tilt that the readings prove while the bar turns freely", () => {
    const names = withFelt("bar.A");
    const { find } = judged({ names, shell: { ndsSlopeUmPerMm: 2 }, words: { bars: { "bar.A": FREE } } });
    expect(find("tilt", "nds")).toMatchObject({ verdict: "not proven", code: "felt-contradicts" });
    expect(find("tilt", "ds")?.verdict).toBe("conforms");
  });

  it("leaves everything by numbers where nothing is contradicted", () => {
    const words = { plugs: { "ds.plug.40.85": "slides", "ds.plug.40.95": "hand" } as const, bars: { "bar.A": FREE } };
    const names = withFelt("ds.plug.40.85", "ds.plug.40.95", "bar.A");
    expect(judged({ names, words }).characteristics).toEqual(judged().characteristics);
    // 3' ± 1' reaches the 3.7' that a stiff bar begins at.
    const stiff = judged({
      names: withFelt("bar.A"),
      shell: { ndsSlopeUmPerMm: 0.8 },
      words: { bars: { "bar.A": STIFF } },
    });
    expect(stiff.find("tilt", "nds")?.verdict).toBe("conforms");
  });

  it("is not measured while a trial that the plan asks for has no answer", () => {
    const names = withFelt("ds.plug.40.95", "bar.A");
    const { find } = judged({ names, words: { plugs: {} } });
    expect(find("bore", "ds")).toMatchObject({ verdict: "not measured", code: "felt-missing" });
    expect(find("bore", "ds")?.reason).toBe("trial ds.plug.40.95 is missing");
    expect(find("tilt", "ds")?.verdict).toBe("not measured");
    expect(find("bore", "nds")?.verdict).toBe("conforms");
    expect(judged({ names }).find("bore", "ds")?.verdict).toBe("not measured");
  });

  it("counts what is found beside the plan, and holds without a limit for alignment", () => {
    const bores = fullPlan(PRESS_FIT_41).filter(({ kind }) => kind === "bore");
    const tried = judged({ names: bores, words: { bars: { "bar.A": NO } } });
    expect(tried.find("tilt", "ds")?.verdict).toBe("does not conform");
    const free = judged({ names: bores, words: { bars: { "bar.A": FREE } } });
    expect(free.find("tilt", "ds")).toBeUndefined();
    expect(free.verdict).toBe("conforms");
    const limits = PRESS_FIT_41.characteristics.filter(({ name }) => name === "bore");
    const unlimited = judged({
      names: bores,
      drawing: { ...PRESS_FIT_41, characteristics: limits },
      words: { bars: { "bar.A": NO } },
    });
    expect(unlimited.verdict).toBe("not proven");
    expect(unlimited.holdsFrame).toBe(true);
  });

  it("tells bars and plugs that contradict each other", () => {
    const words: Words = {
      plugs: { "ds.plug.40.94": "no", "ds.plug.40.96": "slides" },
      bars: { "bar.A": NO, "bar.B": FREE },
    };
    const names = felt("ds.plug.40.94", "ds.plug.40.96", "bar.A", "bar.B");
    const { find } = judged({ names, words });
    expect(find("bore", "ds")).toMatchObject({ verdict: "not proven", code: "felt-contradicts" });
    expect(find("tilt", "nds")).toMatchObject({ verdict: "not proven", code: "felt-contradicts" });
    expect(find("tilt", "nds")?.reason).toContain("bar B turns freely, yet bar A will not pass");
    // U of the zone that 0.573' leave: 2 (76.5 + 2 x 3) mm x 0.573' = 2 x 82.5 x 2/12 µm, by hand; no row for the datum seat.
    expect(find("coaxiality", "nds")?.uncertainty).toBeCloseTo((2 * 82.5 * 2) / 12, 3);
    expect(find("coaxiality", "ds")).toBeUndefined();
  });
});

describe("a plan of plugs and bar alone", () => {
  const NAMES = felt("ds.plug.40.955", "ds.plug.40.997@across", "nds.plug.40.955", "nds.plug.40.997@across", "bar.B");
  const GOOD = {
    plugs: {
      "ds.plug.40.955": "hand",
      "ds.plug.40.997@across": "no",
      "nds.plug.40.955": "slides",
      "nds.plug.40.997@across": "no",
    },
    bars: { "bar.B": FREE },
  } as const satisfies Words;

  it("conforms where the bounds lie inside the limits by their U", () => {
    const { verdict, characteristics, find } = judged({ names: NAMES, words: GOOD });
    expect(verdict).toBe("conforms");
    expect(characteristics.map(({ name, seat }) => `${name} ${seat}`)).toEqual([
      "bore ds",
      "bore nds",
      "coaxiality nds",
      "tilt ds",
      "tilt nds",
    ]);
    // Hand pressure: 40.955 - 0.002; the close bar with 10 µm is free up to 5/12 mrad = 1.432'.
    expect(find("bore", "ds")?.bounds?.least).toBeCloseTo(40.953, 9);
    expect(find("bore", "ds")?.bounds?.most).toBeCloseTo(40.997, 9);
    expect(find("tilt", "ds")?.bounds?.most).toBeCloseTo(1.4324, 3);
    // 2 (76.5 + 2 x 3) mm x 5/12 mrad = 68.75 µm, U = 27.5 µm: inside 100.
    expect(find("coaxiality", "nds")?.bounds?.most).toBeCloseTo(68.75, 2);
  });

  it("does not see an oval without a rod across: the drawing's ovality is allowed for", () => {
    const along = felt("ds.plug.40.955", "ds.plug.40.99");
    const words: Words = { plugs: { "ds.plug.40.955": "slides", "ds.plug.40.99": "no" } };
    // 40.99 + 0.040 of oval lies beyond 41.000.
    expect(judged({ names: along, words }).find("bore", "ds")).toMatchObject({
      verdict: "not proven",
      code: "felt-bounds",
    });
    const low = felt("ds.plug.40.953", "ds.plug.40.957");
    const inside = judged({ names: low, words: { plugs: { "ds.plug.40.953": "slides", "ds.plug.40.957": "no" } } });
    expect(inside.find("bore", "ds")?.verdict).toBe("conforms");
    expect(inside.find("bore", "ds")?.reason).toContain("40 µm of oval allowed for");
  });

  it("is known less well in a warm shell", () => {
    // An aluminium seat of 46 mm grows 1.09 µm a kelvin (23.6e-6 per kelvin): at 31 °C a rod 3 µm inside the limit proves nothing.
    const names = plugsAndBarPlan(PRESS_FIT_46);
    const plugs = names.flatMap((name) =>
      name.kind === "plug" ? [[formatReadingName(name), name.across === true ? "no" : "slides"] as const] : [],
    );
    const words: Words = { plugs: Object.fromEntries(plugs), bars: { "bar.A": FREE, "bar.B": FREE } };
    const at = (temperatureC: number) =>
      judged({ names, words, drawing: PRESS_FIT_46, temperatureC }).find("bore", "ds");
    expect(at(20)?.verdict).toBe("conforms");
    expect(at(31)?.verdict).toBe("not proven");
  });

  it("does not conform where the bounds lie outside, and is not proven between", () => {
    const size = (sizeMm: string, feel: PlugFeel) =>
      judged({ names: felt(`ds.plug.${sizeMm}`), words: { plugs: { [`ds.plug.${sizeMm}`]: feel } } }).verdict;
    expect(size("40.947", "no")).toBe("does not conform");
    expect(size("40.95", "no")).toBe("not proven");
    expect(size("41.003", "slides")).toBe("does not conform");
    expect(size("41.003@across", "slides")).toBe("does not conform");
    expect(size("41.001@across", "slides")).toBe("not proven");
    const bar = (set: string, passage: BarPassage) =>
      judged({ names: felt(`bar.${set}`), words: { bars: { [`bar.${set}`]: passage } } });
    expect(bar("A", NO).verdict).toBe("does not conform");
    // Stiff: 4.3' - 0.6' lies inside 4', 5.7' + 0.6' beyond: nothing is proven.
    expect(bar("A", STIFF).verdict).toBe("not proven");
    expect(bar("A", FREE).verdict).toBe("not proven");
    expect(bar("B", FREE).verdict).toBe("conforms");
    expect(bar("B", NO).verdict).toBe("not proven");
    expect(bar("A", STIFF).holdsFrame).toBe(true);
  });

  it("is not measured where a trial is missing, unless a limit is broken already", () => {
    const { "bar.B": bar } = GOOD.bars;
    const { "ds.plug.40.955": missing, ...rest } = GOOD.plugs;
    expect(missing).toBe("hand");
    const one = judged({ names: NAMES, words: { plugs: rest, bars: { "bar.B": bar } } });
    expect(one.verdict).toBe("not measured");
    expect(one.find("bore", "ds")?.reason).toBe("trial ds.plug.40.955 is missing");
    const broken = judged({
      names: felt("ds.plug.40.94", "ds.plug.40.955"),
      words: { plugs: { "ds.plug.40.94": "no" } },
    });
    expect(broken.verdict).toBe("does not conform");
    expect(judged({ names: NAMES }).verdict).toBe("not measured");
  });
});

describe("properties of felt evidence on random shells", () => {
  const generator = createSeededGenerator(1114);
  const between = (low: number, high: number) => low + (high - low) * generator.uniform();
  const feels: readonly PlugFeel[] = ["slides", "hand", "no"];
  const size = () => (40.93 + Math.round(between(0, 90)) / 1000).toFixed(3).replace(/\.?0+$/, "");

  it("never conforms where the bar rejects or a plug of the lower limit does not enter", () => {
    for (let i = 0; i < 400; i += 1) {
      const shell = { sizeMm: between(40.94, 41.01), ndsSlopeUmPerMm: between(0, 2.5), offsetUm: between(0, 60) };
      const names = withFelt("bar.A", "ds.plug.40.95");
      const isBar = generator.uniform() < 0.5;
      const { verdict, holdsFrame } = judged({
        names,
        shell,
        words: { plugs: { "ds.plug.40.95": isBar ? "slides" : "no" }, bars: { "bar.A": isBar ? NO : FREE } },
      });
      expect(verdict, JSON.stringify({ shell, isBar })).not.toBe("conforms");
      expect(holdsFrame).toBe(true);
    }
  });

  it("never makes of readings that do not conform a frame that does", () => {
    for (let i = 0; i < 400; i += 1) {
      const shell = { sizeMm: between(40.93, 41.02), ndsSlopeUmPerMm: between(0, 2.5) };
      const text = `ds.plug.${size()}`;
      const alone = judged({ shell });
      const passage = [FREE, STIFF, NO][Math.floor(between(0, 3))] ?? NO;
      const feel = feels[Math.floor(between(0, 3))] ?? "no";
      const both = judged({
        shell,
        names: withFelt(text, "bar.A"),
        words: { plugs: { [text]: feel }, bars: { "bar.A": passage } },
      });
      if (alone.verdict !== "conforms")
        expect(both.verdict, JSON.stringify({ shell, text, feel, passage })).not.toBe("conforms");
    }
  });

  it("proves no more by fewer or looser trials", () => {
    const proven = (verdict: string | undefined) => verdict === "conforms" || verdict === "does not conform";
    for (let i = 0; i < 400; i += 1) {
      const text = `ds.plug.${size()}`;
      const other = `ds.plug.${size()}@across`;
      const tight = judged({ names: felt(text, other), words: { plugs: { [text]: "slides", [other]: "no" } } }).find(
        "bore",
        "ds",
      );
      const loose = judged({ names: felt(text, other), words: { plugs: { [text]: "hand", [other]: "hand" } } }).find(
        "bore",
        "ds",
      );
      const single = judged({ names: felt(text), words: { plugs: { [text]: "slides" } } }).find("bore", "ds");
      if (tight?.code === "felt-contradicts") continue;
      if (loose?.verdict === "conforms") expect(tight?.verdict, `${text} ${other}`).toBe("conforms");
      if (proven(single?.verdict)) expect(proven(tight?.verdict), `${text} ${other}`).toBe(true);
    }
  });
});

describe("a bar of a set that nobody knows", () => {
  const bars = (set: string, result: BarPassage, ...more: string[]) =>
    judged({ names: felt(`bar.${set}`, ...more), words: { bars: { [`bar.${set}`]: result } } });

  it.each([FREE, { result: "stiff", clockDeg: 0 } as const, NO])("proves nothing by itself: %j", (result) => {
    const { find } = bars("C", result);
    for (const [name, seat] of [
      ["tilt", "ds"],
      ["tilt", "nds"],
      ["coaxiality", "nds"],
    ] as const) {
      expect(find(name, seat)).toMatchObject({ verdict: "not proven", code: "felt-unknown-set", alwaysHolds: true });
      expect(find(name, seat)?.reason).toMatch(/^unknown set of bars C: .*known: A, B/);
    }
  });

  it("is no name that every object has", () => {
    expect(bars("constructor", FREE).find("tilt", "nds")).toMatchObject({ code: "felt-unknown-set" });
  });

  it("is the set A in small letters, too", () => {
    expect(bars("a", NO).find("tilt", "nds")).toMatchObject({ verdict: "does not conform" });
  });

  it("takes nothing from what a known bar proves, unless it does not pass", () => {
    const both = (result: BarPassage) =>
      judged({ names: felt("bar.B", "bar.C"), words: { bars: { "bar.B": FREE, "bar.C": result } } });
    expect(both(FREE).find("tilt", "nds")).toMatchObject({ verdict: "conforms" });
    expect(both(NO).find("tilt", "nds")).toMatchObject({ verdict: "not proven", code: "felt-unknown-set" });
  });

  it("beside readings says nothing while it passes, and rejects where it does not", () => {
    const beside = (result: BarPassage) => judged({ words: { bars: { "bar.C": result } } });
    expect(beside(FREE).verdict).toBe("conforms");
    expect(beside(NO)).toMatchObject({ verdict: "not proven", holdsFrame: true });
    expect(beside(NO).find("tilt", "nds")).toMatchObject({ code: "felt-unknown-set" });
  });
});
