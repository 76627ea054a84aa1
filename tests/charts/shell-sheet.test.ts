import { describe, expect, it } from "vitest";
import { boxesOverlap, labelBox } from "@/lib/charts/label-box";
import type { ShellDimensions } from "@/lib/charts/shell-asked";
import { layoutShellSheet, type ShellSheetInput } from "@/lib/charts/shell-sheet";
import { layoutShellSection, type SectionState } from "@/lib/charts/shell-section";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { expectDigits } from "../helpers/expect-digits";

// Dimensions of the demonstration drawings (invented limits): bore, width, seat depth, face and outside diameter.
const SHELLS: Readonly<Record<string, { drawing: ShellDimensions; depths: readonly number[] }>> = {
  "press-fit 41": {
    drawing: {
      nominalBoreMm: 41,
      widthMm: 86.5,
      seatDepthMm: 12,
      faceOutsideDiameterMm: 48,
      faceSweepDiameterMm: 44,
      shellOutsideDiameterMm: 49,
    },
    depths: [2, 8],
  },
  "press-fit 46": {
    drawing: {
      nominalBoreMm: 46,
      widthMm: 86.5,
      seatDepthMm: 12,
      faceOutsideDiameterMm: 52,
      faceSweepDiameterMm: 44,
      shellOutsideDiameterMm: 52,
    },
    depths: [2, 8],
  },
  "press-fit 42": {
    drawing: {
      nominalBoreMm: 42,
      widthMm: 68,
      seatDepthMm: 7,
      faceOutsideDiameterMm: 50,
      faceSweepDiameterMm: 44,
      shellOutsideDiameterMm: 50,
    },
    depths: [1.5, 5.5],
  },
};

function sectionsOf(depths: readonly number[], meanMm: number | null): readonly SectionState[] {
  return (["ds", "nds"] as const).flatMap((seat) =>
    depths.map((depthMm) => ({ seat, depthMm, taken: meanMm === null ? 0 : 4, planned: 4, meanMm })),
  );
}

function inputOf(name: string, overrides: Partial<ShellSheetInput> = {}): ShellSheetInput {
  const shell = SHELLS[name];
  if (!shell) throw new Error(`no shell ${name}`);
  return {
    drawing: shell.drawing,
    arrangement: "row",
    widthPx: 810,
    side: "ds",
    sections: sectionsOf(shell.depths, shell.drawing.nominalBoreMm - 0.02),
    asked: null,
    marks: [],
    ...overrides,
  };
}

describe("the shell on its sheet", () => {
  for (const name of Object.keys(SHELLS)) {
    for (const arrangement of ["row", "column"] as const) {
      it(`keeps the labels of ${name} apart in a ${arrangement}, measured or not`, () => {
        for (const meanMm of [null, 40.98]) {
          const widthPx = arrangement === "row" ? 810 : 400;
          const depths = SHELLS[name]?.depths ?? [];
          const sheet = layoutShellSheet(inputOf(name, { arrangement, widthPx, sections: sectionsOf(depths, meanMm) }));
          const boxes = sheet.section.labels.map((label) => ({ label, box: labelBox(label) }));
          boxes.forEach(({ label, box }, index) => {
            expect(box.left, label.text).toBeGreaterThan(0);
            expect(box.right, label.text).toBeLessThan(widthPx);
            for (const other of boxes.slice(index + 1))
              expect(boxesOverlap(box, other.box), `${label.text} | ${other.label.text}`).toBe(false);
          });
        }
      });
    }
    it(`draws ${name} to one scale in both views`, () => {
      const { section, clock, pxPerMm } = layoutShellSheet(inputOf(name));
      const drawing = SHELLS[name]?.drawing;
      expectDigits(section.x1 - section.x0, (drawing?.widthMm ?? 0) * pxPerMm, 10);
      expectDigits(clock.boreRadius * 2, (drawing?.nominalBoreMm ?? 0) * pxPerMm, 10);
      expect(clock.face.cy).toBe(section.axisY);
    });
  }
  it("does not move while the means come in", () => {
    for (const name of Object.keys(SHELLS)) {
      const depths = SHELLS[name]?.depths ?? [];
      const before = layoutShellSheet(inputOf(name, { sections: sectionsOf(depths, null) }));
      expect(layoutShellSheet(inputOf(name)).section.axisY).toBe(before.section.axisY);
    }
  });
  it("projects in the first angle: from the drive side at the right, from the non-drive side at the left", () => {
    const fromDs = layoutShellSheet(inputOf("press-fit 41"));
    const fromNds = layoutShellSheet(inputOf("press-fit 41", { side: "nds" }));
    expect(fromDs.clock.face.cx).toBeGreaterThan(fromDs.section.x1);
    expect(fromNds.clock.face.cx).toBeLessThan(fromNds.section.x0);
    expect(fromNds.clock.caption.text).toBe("seen from the non-drive side");
  });
  it("draws a 3-9 reading as a point on the axis and a 12-6 reading as an arrow across the bore", () => {
    const asked = (directionDeg: number): ReadingName => ({ kind: "bore", seat: "nds", depthMm: 2, directionDeg });
    const through = layoutShellSheet(inputOf("press-fit 41", { asked: asked(90) })).section;
    expect(through.arrow).toBeNull();
    expect(through.dots).toMatchObject([{ y: through.axisY, kind: "through" }]);
    const { section, pxPerMm } = layoutShellSheet(inputOf("press-fit 41", { asked: asked(0) }));
    expect(section.dots).toEqual([]);
    expectDigits((section.arrow?.to.y ?? 0) - (section.arrow?.from.y ?? 0) + 2, 41 * pxPerMm, 10);
    expectDigits(section.arrow?.to.x ?? 0, section.x1 - 2 * pxPerMm, 10);
  });
  it("shows a sweep position in front of or behind the cut", () => {
    const at = (angleDeg: number) =>
      layoutShellSheet(inputOf("press-fit 41", { asked: { kind: "sweep", seat: "nds", depthMm: 8, angleDeg } })).section
        .dots[0];
    expect(at(90)?.kind).toBe("contact");
    expect(at(270)?.kind).toBe("contact behind");
    expect(at(0)?.y).toBeLessThan(at(180)?.y ?? 0);
  });
});
