import { describe, expect, it } from "vitest";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { exceededForm, type SeatForm, shownForm, streamForm, suggestedForm } from "@/lib/quality/observed-form";
import { expectDigits } from "../helpers/expect-digits";

/** A seat made by hand: radius = mean + taper with depth + oval + lobes, so that its form is known without any fit. */
type Made = {
  readonly lobes?: Readonly<Record<number, number>>;
  readonly ovalityUm?: number;
  readonly taperUm?: number;
};
const RAD = Math.PI / 180;
const [SHALLOW, DEEP] = [2, 8];

function readings(names: readonly ReadingName[], { lobes = {}, ovalityUm = 0, taperUm = 0 }: Made): (number | null)[] {
  return names.map((name) => {
    if (name.kind === "bore") {
      // Twice the radius' second harmonic of amplitude ovality / 4, of both ends of the diameter: odd lobes cancel.
      const oval = (ovalityUm / 2) * Math.cos(2 * (name.directionDeg - 20) * RAD);
      const depth = (taperUm * (name.depthMm - SHALLOW)) / (DEEP - SHALLOW);
      return 40.975 + (oval + depth) / 1000;
    }
    if (name.kind === "sweep")
      return Object.entries(lobes).reduce(
        (sum, [order, um]) => sum + um * Math.cos(Number(order) * (name.angleDeg - 10) * RAD),
        (ovalityUm / 4) * Math.cos(2 * (name.angleDeg - 20) * RAD),
      );
    return name.kind === "width" ? 86.5 : 0;
  });
}

function formOf(names: readonly ReadingName[], made: Made): SeatForm[] {
  const compiled = compileMeasurement(names, PRESS_FIT_41);
  return shownForm(PRESS_FIT_41, compiled, measureFrame(compiled, readings(names, made)));
}

const seat = (form: readonly SeatForm[], of: "ds" | "nds") => form.find((one) => one.seat === of);

describe("form of one frame", () => {
  it("is what the shell was made with", () => {
    const form = formOf(fullPlan(PRESS_FIT_41), { lobes: { 3: 4 }, ovalityUm: 12, taperUm: -7 });
    expect(seat(form, "nds")?.order).toBe(3);
    expectDigits(seat(form, "nds")?.lobeUm ?? 0, 4, 9);
    expectDigits(seat(form, "nds")?.ovalityUm ?? 0, 12, 9);
    expectDigits(seat(form, "ds")?.taperUm ?? 0, 7, 9);
    // Nobody swept the DS seat.
    expect(seat(form, "ds")?.lobeUm).toBeNull();
  });

  it("takes five lobes at eight angles for three, cos 5x = cos 3x on multiples of 45 degrees", () => {
    const form = formOf(fullPlan(PRESS_FIT_41), { lobes: { 5: 3 } });
    expectDigits(seat(form, "nds")?.lobeUm ?? 0, 3, 9);
  });

  it("says nothing of lobes from four angles, nor of a taper from one depth", () => {
    const names = fullPlan(PRESS_FIT_41).filter(
      (name) =>
        (name.kind === "sweep" && name.angleDeg % 90 === 0) || (name.kind === "bore" && name.depthMm === SHALLOW),
    );
    expect(seat(formOf(names, { lobes: { 3: 4 }, taperUm: 5 }), "nds")).toMatchObject({ lobeUm: null, taperUm: null });
    // Its two depths, three directions and eight angles see all of it.
    expect(seat(formOf(routinePlan(PRESS_FIT_41), { lobes: { 3: 4 } }), "nds")?.lobeUm).toBeCloseTo(4, 9);
  });
});

const frames = (count: number, lobeUm: (place: number) => number): SeatForm[][] =>
  Array.from({ length: count }, (_, place) => [
    { seat: "nds", lobeUm: lobeUm(place), order: 3, ovalityUm: 2, taperUm: 1 },
  ]);

describe("form of a stream", () => {
  it("is exceeded by one frame in a hundred: of 300 the 298th, counted by hand", () => {
    // The values 1 to 300 in another order; ceil(0.99 * 301) = 298.
    const [form] = streamForm(frames(300, (place) => ((place * 7) % 300) + 1));
    expect(form?.parts.lobeUm).toEqual({ valueUm: 298, frames: 300 });
    expect(form?.largest).toEqual({ lobeUm: 300, order: 3 });
    // Of 100 it is the largest, and what came before the newest 300 is not looked at.
    expect(streamForm(frames(100, (place) => place + 1))[0]?.parts.lobeUm?.valueUm).toBe(100);
    expect(streamForm(frames(400, (place) => (place < 300 ? 1 : 50)))[0]?.parts.lobeUm?.valueUm).toBe(1);
  });

  it("is suggested from 100 frames on, the worst of the streams, rounded up", () => {
    expect(suggestedForm([streamForm(frames(99, () => 4.02))])).toBeNull();
    const many = streamForm(frames(120, () => 4.02));
    expect(suggestedForm([many])).toEqual({ lobeUm: 4.1, ovalityUm: 2, taperUm: 1, frames: 120 });
    const worse = streamForm(frames(100, () => 6));
    expect(suggestedForm([many, worse])).toEqual({ lobeUm: 6, ovalityUm: 2, taperUm: 1, frames: 100 });
    // A stream with few frames neither lifts nor lowers it.
    expect(suggestedForm([many, streamForm(frames(3, () => 20))])?.lobeUm).toBe(4.1);
  });
});

describe("frames beyond a stated form", () => {
  const stated = { lobeUm: 4, ovalityUm: 3, taperUm: 2 };
  const beyond = (n: number, k: number) =>
    exceededForm(
      frames(n, (place) => (place < k ? 5 : 1)),
      stated,
    );

  // P(X >= k) of n at 1 %: 1 of 1 0.0100; 2 of 15 0.0096; 2 of 16 0.0109 (1 - 0.99^n - n 0.01 0.99^(n-1), by hand).
  it.each([
    [1, 1, false],
    [15, 2, true],
    [16, 2, false],
    [300, 0, false],
  ])("of %i frames %i: %s", (n, k, says) => {
    expect(beyond(n, k).length > 0).toBe(says);
  });

  it("are told with how many and the largest", () => {
    expect(beyond(15, 2)).toEqual([{ part: "lobeUm", statedUm: 4, largestUm: 5, beyond: 2, frames: 15 }]);
  });
});
