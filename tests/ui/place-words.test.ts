import { describe, expect, it } from "vitest";
import { placeWords, valueWords } from "@/app/setup/_components/place-words";
import { compareDrawings } from "@/lib/quality/compare-drawings";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";

describe("what differs between two revisions", () => {
  it("is said with units, and a bearing's width is no shell's", () => {
    const { bearing } = PRESS_FIT_41.carries;
    const after: ShellDrawing = {
      ...PRESS_FIT_41,
      decisionRule: "simple",
      characteristics: PRESS_FIT_41.characteristics
        .filter(({ name }) => name !== "taper")
        .map((one) => (one.name === "tilt" ? { ...one, upper: 3 } : one)),
      carries: { ...PRESS_FIT_41.carries, bearing: { ...bearing, widthMm: 8 } },
    };
    const said = compareDrawings(PRESS_FIT_41, after).map(({ path, before, after: now }) => [
      placeWords(path),
      valueWords(path, before),
      valueWords(path, now),
    ]);
    expect(said).toHaveLength(7);
    expect(said).toEqual(
      expect.arrayContaining([
        ["taper, limited", "yes", "no"],
        ["taper, upper limit, µm", "10", "none"],
        ["taper, critical", "no", "none"],
        ["taper, U (k = 2), µm", "2.2", "none"],
        ["tilt, upper limit, arc min", "4", "3"],
        ["decision rule", "ISO 14253-1, guard band U\u00a0(k\u00a0=\u00a02)", "simple acceptance, no guard band"],
        ["bearing, width, mm", "7", "8"],
      ]),
    );
  });
});
