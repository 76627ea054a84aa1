import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { clockNumerals, clockPoint, enlargementFactor } from "@/lib/charts/clock-face";
import { layoutClock, type ClockMark } from "@/lib/charts/clock-layout";
import { boxesOverlap, labelBox } from "@/lib/charts/label-box";
import { expectDigits } from "../helpers/expect-digits";

const ds = { cx: 100, cy: 50, side: "ds" } as const;
const nds = { ...ds, side: "nds" } as const;

// Source: definition of the clock in this project: x = cx + r sin(30 h), y = cy - r cos(30 h) for clock position h as seen
// from the drive side; from the non-drive side h shows as 12 - h.
describe("points on the clock", () => {
  it("has 12 up, 3 right and 4 o'clock at sin 120 and cos 120 from the drive side", () => {
    expectDigits(clockPoint(ds, 40, 0).x, 100, 12);
    expectDigits(clockPoint(ds, 40, 0).y, 10, 12);
    expectDigits(clockPoint(ds, 40, 90).x, 140, 12);
    expectDigits(clockPoint(ds, 40, 120).x, 100 + 40 * 0.8660254037844387, 12);
    expectDigits(clockPoint(ds, 40, 120).y, 50 + 20, 12);
  });
  it("mirrors left and right from the non-drive side and leaves up and down", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 360, noNaN: true }),
        fc.double({ min: 0.1, max: 500, noNaN: true }),
        (angle, r) => {
          const seen = clockPoint(ds, r, angle);
          const mirrored = clockPoint(nds, r, angle);
          expectDigits(mirrored.x - 100 + 1000, 100 - seen.x + 1000, 9);
          expectDigits(mirrored.y + 1000, seen.y + 1000, 9);
        },
      ),
      { seed: 41 },
    );
  });
  it("puts position h where the numeral 12 - h stands when seen from the non-drive side", () => {
    for (let hour = 1; hour < 12; hour += 1) {
      const numeral = clockNumerals(nds, 40).find((each) => each.hour === 12 - hour);
      const point = clockPoint(nds, 40, hour * 30);
      expectDigits((numeral?.x ?? 0) + 1000, point.x + 1000, 10);
      expectDigits((numeral?.y ?? 0) + 1000, point.y + 1000, 10);
    }
  });
  it("enlarges by the largest round number that fits", () => {
    // By hand: 0.05 mm x 3.9 px/mm x 300 = 58.5 px, x 400 = 78 px; 0.05 x 3.9 x 250 = 48.75 px.
    expect(enlargementFactor(0.05, 3.9, 60)).toBe(300);
    expect(enlargementFactor(0.05, 3.9, 50)).toBe(250);
    expect(enlargementFactor(0, 3.9, 60)).toBe(8000);
    expect(enlargementFactor(50, 3.9, 60)).toBe(1);
  });
});

describe("values on the clock", () => {
  const read = (angleDeg: number): ClockMark => ({ angleDeg, span: "diameter", state: "read", text: "40.968" });
  it("never lets two values run into each other, whatever the number of directions", () => {
    for (const directions of [2, 4, 6, 8, 12]) {
      const marks = Array.from({ length: directions }, (_, index) => read((180 / directions) * index));
      const { labels } = layoutClock(ds, { radius: 92, plateRadius: 140 }, [
        ...marks,
        { angleDeg: 90, span: "diameter", state: "asked" },
      ]);
      const boxes = labels.map(labelBox);
      expect(labels.length).toBeGreaterThanOrEqual(3);
      boxes.forEach((box, index) =>
        boxes.slice(index + 1).forEach((other) => expect(boxesOverlap(box, other)).toBe(false)),
      );
    }
  });
  it("marks both ends of a diameter that is asked for, as the side of view shows them", () => {
    const asked: ClockMark = { angleDeg: 45, span: "diameter", state: "asked" };
    expect(layoutClock(ds, { radius: 92, plateRadius: 140 }, [asked]).plates.map((plate) => plate.text)).toEqual([
      "1:30",
      "7:30",
    ]);
    expect(layoutClock(nds, { radius: 92, plateRadius: 140 }, [asked]).plates.map((plate) => plate.text)).toEqual([
      "10:30",
      "4:30",
    ]);
  });
});
