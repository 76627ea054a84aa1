import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { compileMeasurement, type FrameMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { toldFrameMeaning } from "@/lib/format/meaning-words";
import { PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";
import { frameMeaning, type MeaningInput } from "@/lib/quality/frame-meaning";
import { expectDigits } from "@/tests/helpers/expect-digits";

/** The meaning of a frame as it is shown. */
function told(drawing: ShellDrawing, { seenFrom, ...input }: MeaningInput & { readonly seenFrom?: Seat }) {
  return toldFrameMeaning(frameMeaning(drawing, input), seenFrom);
}

type Shell = {
  readonly diameterMm: Readonly<Record<Seat, number>>;
  readonly offsetUm: number;
  readonly clockDeg: number;
  readonly faceUm?: number;
  readonly widthMm?: number;
};

const RAD = Math.PI / 180;

/** Readings of a shell with round seats, the NDS seat parallel and offset, by the definition of each reading. */
function readingOf(name: ReadingName, shell: Shell): number | null {
  switch (name.kind) {
    case "bore":
      return shell.diameterMm[name.seat];
    case "sweep":
      return shell.offsetUm * Math.cos((name.angleDeg - shell.clockDeg) * RAD);
    case "face":
      return ((shell.faceUm ?? 0) / 2) * Math.cos(name.angleDeg * RAD);
    case "width":
      return shell.widthMm ?? 86.5;
    default:
      return null;
  }
}

function measure(
  drawing: ShellDrawing,
  shell: Shell,
  keep: (name: ReadingName) => boolean = () => true,
): FrameMeasurement {
  const names = fullPlan(drawing).filter(keep);
  return measureFrame(
    compileMeasurement(names, drawing),
    names.map((name) => readingOf(name, shell)),
  );
}

function valueOf<T>({
  result,
  sentence,
}: {
  result: { ok: true; value: T } | { ok: false; reason: string };
  sentence: string;
}): T {
  if (!result.ok) throw new Error(sentence);
  return result.value;
}

const even: Shell = { diameterMm: { ds: 40.975, nds: 40.975 }, offsetUm: 62, clockDeg: 120 };

describe("frameMeaning of a shell with round seats and a parallel offset", () => {
  const meaning = told(PRESS_FIT_41, { measurement: measure(PRESS_FIT_41, even) });

  it("gives the interference over the cup's tolerance", () => {
    // By hand: cup 41.005 to 41.020 less seat 40.975.
    const fit = valueOf(meaning.bearings.ds.fit);
    expectDigits(fit.leastUm, 30, 9);
    expectDigits(fit.mostUm, 45, 9);
    expect(meaning.bearings.ds.fit.sentence).toBe("Interference DS 30 to 45 µm.");
    expect(meaning.bearings.ds.fit.figure).toBe("cup ø 41.005 to 41.020");
    // Source: shop uncertainty budget, mean of 8 readings: U 5.2 µm.
    expect(meaning.bearings.ds.fit.uncertainty?.value).toBeCloseTo(5.2, 1);
  });

  it("gives a running clearance below the bearing's own, with a verdict and assumptions", () => {
    const { clearance } = meaning.bearings.nds;
    const running = valueOf(clearance);
    expect(running.clearance.minUm).toBeLessThan(5);
    expect(running.clearance.maxUm).toBeLessThan(20);
    expect(running.loss.minUm).toBeGreaterThan(0);
    expect(clearance.assumptions.join()).toContain("61805");
    expect(clearance.sentence).toContain(running.verdict);
  });

  it("gives the tilt of both seats to the common axis", () => {
    // By hand: 0.062 mm over 86.5 - 2 x 5 mm = 0.8105 mrad = 2.786'.
    for (const seat of ["ds", "nds"] as const) {
      const tilt = valueOf(meaning.bearings[seat].tilt);
      expectDigits(tilt.tiltArcmin, (Math.atan(0.062 / 76.5) * 10800) / Math.PI, 8);
      expect(tilt.freeBandArcmin[0]).toBeLessThanOrEqual(tilt.freeBandArcmin[1]);
      expect(tilt.verdict).toBe(tilt.tiltArcmin <= tilt.allowedArcmin ? "within" : "exceeds");
    }
  });

  it("gives the largest bar and the smallest ream by the closed form", () => {
    // Chebyshev line by hand: diameter -/+ 0.062 x 6 / 76.5.
    expectDigits(valueOf(meaning.functionalSize).diameterMm, 40.975 - (0.062 * 6) / 76.5, 9);
    const ream = valueOf(meaning.salvage.ream);
    expect(ream.estimable && ream.value).toBeCloseTo(40.975 + (0.062 * 6) / 76.5, 6);
    expect(meaning.salvage.ream.sentence).toBe("One axis, ø 40.980: stays 20 µm under the limit.");
    expect(meaning.salvage.ream.calledFor).toBe(true);
    expect(meaning.salvage.summary).toBe("line-ream");
    expect(meaning.functionalSize.sentence).toMatch(/^Binds first on the (DS|NDS) seat, at (4 and 10|10 and 4)\./);
    expect(meaning.functionalSize.sentence).toContain("Not seen: odd lobes of the DS seat");
  });

  it("lets the gauge bar turn freely", () => {
    // By hand: 20 - 12 x 0.8105 = 10.27 µm.
    const bar = valueOf(meaning.gaugeBar);
    expectDigits(bar.clearanceUm, 20 - 12000 * Math.atan(0.062 / 76.5), 8);
    expect(bar.result).toBe("free");
  });

  it("states an uncertainty beside every number that it gives", () => {
    const { bearings, functionalSize, gaugeBar, salvage } = meaning;
    const all = [bearings.ds, bearings.nds].flatMap((b) => [b.fit, b.clearance, b.tilt]);
    for (const part of [...all, functionalSize, gaugeBar, salvage.ream, salvage.facing, salvage.compound.ds]) {
      expect(part.uncertainty?.value, part.title).toBeGreaterThan(0);
      expect(part.assumptions.length, part.title).toBeGreaterThan(0);
      expect(part.explanation, part.title).not.toBe("");
    }
  });

  it("is plain data that JSON keeps", () => {
    expect(JSON.parse(JSON.stringify(meaning))).toEqual(meaning);
  });

  it("carries the cautions", () => {
    expect(meaning.cautions).toContain("makers-limits-decide");
    expect(meaning.note).toContain("gloves");
  });
});

describe("frameMeaning seen from either side", () => {
  it("names mirrored clock positions from the non-drive side and keeps the data", () => {
    const measurement = measure(PRESS_FIT_41, { ...even, offsetUm: 120 });
    const ds = told(PRESS_FIT_41, { measurement });
    const nds = told(PRESS_FIT_41, { measurement, seenFrom: "nds" });
    expect(ds.gaugeBar.result).toEqual(nds.gaugeBar.result);
    const bar = valueOf(ds.gaugeBar);
    // By hand: 20 - 12 x 1.5686 = 1.18 µm; inner edge of the DS gauge towards the NDS seat's offset, 4 o'clock.
    expect(bar.result).toBe("stiff");
    expect(bar.seats.ds.innerContactDeg).toBeCloseTo(120, 6);
    expect(bar.seats.nds.innerContactDeg).toBeCloseTo(300, 6);
    expect(ds.gaugeBar.sentence).toMatch(/inner edge at 4 and the outer edge at 10/);
    expect(nds.gaugeBar.sentence).toMatch(/inner edge at 8 and the outer edge at 2/);
  });
});

describe("frameMeaning of salvage", () => {
  it("calls for nothing on a good shell", () => {
    const good = told(PRESS_FIT_41, { measurement: measure(PRESS_FIT_41, { ...even, offsetUm: 5 }) });
    expect(good.salvage.summary).toBe("none needed");
  });

  it("calls for facing where a face runs out, and finds it possible while the width lasts", () => {
    const face = (widthMm: number) =>
      told(PRESS_FIT_41, { measurement: measure(PRESS_FIT_41, { ...even, offsetUm: 5, faceUm: 80, widthMm }) });
    expect(face(86.6).salvage.summary).toBe("facing");
    expect(face(86.4).salvage.summary).toBe("not possible");
  });

  it("calls for a compound where a seat is large, and for a sleeve where it is far too large", () => {
    const bore = (diameter: number) =>
      told(PRESS_FIT_41, {
        measurement: measure(PRESS_FIT_41, { ...even, offsetUm: 0, diameterMm: { ds: diameter, nds: 40.975 } }),
      });
    expect(bore(41.09).salvage.summary).toBe("retaining compound");
    expect(bore(41.3).salvage.compound.ds.sentence).toContain("sleeve");
    expect(bore(41.3).salvage.summary).toBe("not possible");
    expect(bore(41.09).bearings.ds.fit.sentence).toBe("Clearance DS 70 to 85 µm.");
  });
});

describe("frameMeaning of incomplete readings", () => {
  it("says that diameters alone do not place the seats, and still gives the fit", () => {
    const measurement = measure(PRESS_FIT_41, even, (name) => name.kind === "bore");
    const meaning = told(PRESS_FIT_41, { measurement });
    expect(meaning.functionalSize.result.ok).toBe(false);
    expect(meaning.functionalSize.sentence).toContain("centres");
    expect(meaning.gaugeBar.result.ok).toBe(false);
    expect(meaning.bearings.ds.tilt.result.ok).toBe(false);
    expect(meaning.salvage.ream.result.ok).toBe(false);
    expect(meaning.bearings.ds.fit.result.ok).toBe(true);
  });

  it("says so where there is nothing at all", () => {
    const meaning = told(PRESS_FIT_41, {
      measurement: measure(PRESS_FIT_41, even, (name) => name.kind === "width"),
    });
    for (const part of [
      meaning.functionalSize,
      meaning.bearings.ds.fit,
      meaning.bearings.ds.clearance,
      meaning.salvage.facing,
    ])
      expect(part.sentence).toMatch(/^Not estimable: /);
    expect(meaning.salvage.summary).toBe("none needed");
  });

  it("gives offset without tilt from one swept section: no gauge bar, no angle in the bearing", () => {
    const measurement = measure(PRESS_FIT_41, even, (name) => !(name.kind === "sweep" && name.depthMm === 8));
    const meaning = told(PRESS_FIT_41, { measurement });
    expect(meaning.gaugeBar.result.ok).toBe(false);
    expect(meaning.bearings.nds.tilt.result.ok).toBe(false);
  });
});

describe("frameMeaning of a bearing straight in the shell", () => {
  it("gives 6 to 42 µm over the limits of P7 and names the bearing", () => {
    // Source: proposal for 42 mm, hole P7 41.958-41.983 and bearing 0/-11 µm: interference 6-42 µm.
    const fit = (diameter: number) =>
      valueOf(
        told(PRESS_FIT_42, {
          measurement: measure(PRESS_FIT_42, { ...even, offsetUm: 0, diameterMm: { ds: diameter, nds: diameter } }),
        }).bearings.ds.fit,
      );
    expectDigits(fit(41.983).leastUm, 6, 8);
    expectDigits(fit(41.958).mostUm, 42, 9);
  });

  it("refuses a drawing whose shell is smaller than its seat", () => {
    const measurement = measure(PRESS_FIT_42, { ...even, offsetUm: 0, diameterMm: { ds: 41.97, nds: 41.97 } });
    expect(() => told({ ...PRESS_FIT_42, shellOutsideDiameterMm: 40 }, { measurement })).toThrow(CoreError);
  });
});

describe("frameMeaning of plugs and bar (common practice, no source)", () => {
  const measurement = measure(PRESS_FIT_41, even);

  it("finds nothing wrong where 40.85 slides, 40.95 enters by hand and the bar turns freely", () => {
    const { evidence } = told(PRESS_FIT_41, {
      measurement,
      plugs: {
        ds: [
          { sizeMm: 40.85, feel: "slides" },
          { sizeMm: 40.95, feel: "hand" },
        ],
      },
      bars: [{ set: "A", result: "free" }],
    });
    expect(evidence.plugs.ds?.findings).toEqual([]);
    expect(evidence.plugs.nds).toBeNull();
    expect(evidence.sentences).toEqual(["The bar turns freely: the seats are in line within 4.3′."]);
  });

  it("reports gauge problems first where plugs and bar contradict the readings", () => {
    const { evidence } = told(PRESS_FIT_41, {
      measurement,
      plugs: { nds: [{ sizeMm: 40.95, feel: "no" }] },
      bars: [{ set: "A", result: "no" }],
    });
    expect(evidence.sentences[0]).toContain(
      "Gauge problem, NDS: plug 40.95 does not enter, smallest bore reading 40.975 mm",
    );
    expect(evidence.sentences[1]).toContain("the bar contradicts the measured tilt of 2.8′");
    expect(evidence.sentences.slice(2).join(" ")).toContain("reject");
  });
});

describe("readings and drawings beyond what can be", () => {
  it("says why there is no cylinder, and keeps the rest", () => {
    const lobed = (depthMm: number) =>
      Array.from({ length: 12 }, (_, i): ReadingName => ({ kind: "sweep", seat: "nds", depthMm, angleDeg: 30 * i }));
    const bores = fullPlan(PRESS_FIT_41).filter(({ kind }) => kind === "bore");
    const names = [...bores, ...lobed(2), ...lobed(8)];
    const values = names.map((name) =>
      name.kind === "sweep" ? 20_000 * Math.cos(3 * name.angleDeg * RAD) : readingOf(name, even),
    );
    const meaning = told(PRESS_FIT_41, {
      measurement: measureFrame(compileMeasurement(names, PRESS_FIT_41), values),
    });
    expect(meaning.functionalSize.sentence).toBe(
      "Not estimable: the lobes of a section reach half its radius: a reading must be wrong.",
    );
    expect(meaning.bearings.ds.fit.result.ok).toBe(true);
  });

  it("gives no free tilt where the clearance is more than the grooves hold", () => {
    const { bearing, cup } = PRESS_FIT_41.carries;
    const loose = { ...PRESS_FIT_41, carries: { bearing: { ...bearing, clearanceUm: [500, 1000] as const }, cup } };
    const { tilt, clearance } = told(loose, { measurement: measure(loose, even) }).bearings.ds;
    expect(clearance.result.ok).toBe(true);
    expect(tilt.sentence).toBe("Not estimable: the running clearance is larger than the grooves hold.");
  });
});
