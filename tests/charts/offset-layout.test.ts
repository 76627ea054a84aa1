import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { boxesOverlap, labelBox } from "@/lib/charts/label-box";
import { layoutOffset, type OffsetInput } from "@/lib/charts/offset-layout";
import { DEMONSTRATION_DRAWINGS } from "@/lib/quality/demonstration-drawings";

const [drawing] = DEMONSTRATION_DRAWINGS;
if (drawing === undefined) throw new Error("no drawing");
// A coaxiality zone of diameter 100 µm: the axis may lie 50 µm off (ISO 1101: the zone is the diameter of a cylinder).
const LIMIT_UM = 100;

const inputOf = (offsetUm: number, clockDeg: number, change: Partial<OffsetInput> = {}): OffsetInput => ({
  drawing,
  offset: {
    towards12Um: offsetUm * Math.cos((clockDeg * Math.PI) / 180),
    towards3Um: offsetUm * Math.sin((clockDeg * Math.PI) / 180),
    slope12UmPerMm: 0.2,
  },
  zoneUm: 2 * offsetUm,
  limitUm: LIMIT_UM,
  meansMm: { ds: 40.968, nds: 40.975 },
  ...change,
});
const lengthOf = ({ face, tip }: ReturnType<typeof layoutOffset>) => Math.hypot(tip.x - face.cx, tip.y - face.cy);

describe("the drawing of an offset", () => {
  it("lets the limit fill the picture and shows 3 µm as next to nothing", () => {
    for (const each of DEMONSTRATION_DRAWINGS) {
      const small = layoutOffset(inputOf(3, 120, { drawing: each }));
      expect((small.limitRadius ?? 0) / small.clockRadius, each.key).toBeGreaterThan(0.6);
      expect(small.limitRadius ?? Infinity, each.key).toBeLessThan(small.clockRadius);
      expect(lengthOf(small) / (small.limitRadius ?? 0)).toBeCloseTo(3 / 50, 9);
    }
  });

  it("keeps one scale for whatever conforms, and says it", () => {
    const factors = [0, 0.4, 3, 20, 49, 50].map((um) => layoutOffset(inputOf(um, 30)).factor);
    expect(new Set(factors).size).toBe(1);
    const { labels, factor } = layoutOffset(inputOf(3, 30));
    expect(labels.map(({ text }) => text)).toContain(`offset drawn ${factor} times larger`);
  });

  it("shows what does not conform beyond the limit circle and inside the picture, in proportion", () => {
    for (const um of [51, 62, 300, 4000]) {
      const far = layoutOffset(inputOf(um, 120));
      expect(lengthOf(far) / (far.limitRadius ?? 0)).toBeCloseTo(um / 50, 9);
      expect(lengthOf(far)).toBeLessThanOrEqual(far.clockRadius);
    }
  });

  it("draws section and clock by the same scale", () => {
    const { section, axis, tip, face } = layoutOffset(
      inputOf(40, 0, { offset: { towards12Um: 40, towards3Um: 0, slope12UmPerMm: 0 } }),
    );
    const ys = [...axis.matchAll(/ (-?[\d.]+)/g)].map(([, y]) => Number(y));
    for (const y of ys) expect(section.axisY - y).toBeCloseTo(face.cy - tip.y, 0);
  });

  it("never lets two labels meet, nor a label leave the picture, wherever the axis lies", () => {
    const cases = fc.record({
      which: fc.constantFrom(...DEMONSTRATION_DRAWINGS),
      um: fc.oneof(fc.double({ min: 0, max: 60, noNaN: true }), fc.double({ min: 60, max: 9000, noNaN: true })),
      clockDeg: fc.double({ min: 0, max: 360, noNaN: true }),
      slope: fc.option(fc.double({ min: -6, max: 6, noNaN: true })),
      side: fc.constantFrom("ds" as const, "nds" as const),
      limitUm: fc.constantFrom(null, 30, 100),
      decimal: fc.constantFrom("." as const, "," as const),
      means: fc.boolean(),
    });
    fc.assert(
      fc.property(cases, ({ which, um, clockDeg, slope, side, limitUm, decimal, means }) => {
        const input = inputOf(um, clockDeg, { drawing: which, side, limitUm, decimal });
        const layout = layoutOffset({
          ...input,
          offset: { ...input.offset, slope12UmPerMm: slope },
          ...(means ? {} : { meansMm: {} }),
        });
        const boxes = layout.labels.map((label) => ({ text: label.text, box: labelBox(label) }));
        const clock = {
          left: layout.face.cx - layout.numeralRadius - 8,
          right: layout.face.cx + layout.numeralRadius + 8,
          top: layout.face.cy - layout.numeralRadius - 8,
          bottom: layout.face.cy + layout.numeralRadius + 12,
        };
        expect(clock.bottom).toBeLessThanOrEqual(layout.height);
        boxes.forEach(({ text, box }, index) => {
          expect(box.left, text).toBeGreaterThanOrEqual(0);
          expect(box.right, text).toBeLessThanOrEqual(layout.width);
          expect(box.bottom, text).toBeLessThanOrEqual(layout.height);
          expect(boxesOverlap(box, clock), `${text} on the clock`).toBe(false);
          for (const other of boxes.slice(index + 1))
            expect(boxesOverlap(box, other.box), `${text} | ${other.text}`).toBe(false);
        });
        const note = boxes.find(({ text }) => text.startsWith("datum A"));
        const axis = boxes.find(({ text }) => text === "NDS axis");
        for (const { box } of [note, axis].filter((each) => each !== undefined))
          expect(box.bottom < layout.section.axisY || box.top > layout.section.axisY).toBe(true);
      }),
      { numRuns: 500 },
    );
  });
});
