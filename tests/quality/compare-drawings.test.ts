import { describe, expect, it } from "vitest";
import { compareDrawings } from "@/lib/quality/compare-drawings";
import { PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";

describe("compareDrawings", () => {
  it("finds nothing between a revision and its copy, in whatever order the characteristics stand", () => {
    const turned = { ...PRESS_FIT_41, revision: "B", characteristics: PRESS_FIT_41.characteristics.toReversed() };
    expect(compareDrawings(PRESS_FIT_41, turned)).toEqual([]);
  });

  it("names what changed with its old and its new value", () => {
    const next = {
      ...PRESS_FIT_41,
      revision: "B",
      widthMm: 92,
      characteristics: PRESS_FIT_41.characteristics
        .filter((one) => one.name !== "taper")
        .map((one) => (one.name === "bore" ? { ...one, upper: 40.99, target: 40.965 } : one)),
      carries: { ...PRESS_FIT_41.carries, cup: null },
    };
    const changes = compareDrawings(PRESS_FIT_41, next);
    expect(changes).toContainEqual({ path: "widthMm", before: 86.5, after: 92 });
    expect(changes).toContainEqual({ path: "characteristics.bore.upper", before: 41, after: 40.99 });
    expect(changes).toContainEqual({ path: "characteristics.bore.target", before: null, after: 40.965 });
    expect(changes).toContainEqual({ path: "characteristics.taper.upper", before: 10, after: null });
    expect(changes).toContainEqual({ path: "carries.cup.wallMm", before: 2, after: null });
    expect(changes.some((one) => one.path.startsWith("characteristics.ovality"))).toBe(false);
  });

  it("says the same backwards", () => {
    const there = compareDrawings(PRESS_FIT_41, PRESS_FIT_42);
    const back = compareDrawings(PRESS_FIT_42, PRESS_FIT_41);
    const turn = back.map(({ path, before, after }) => ({ path, before: after, after: before }));
    const byPath = (a: { path: string }, b: { path: string }) => a.path.localeCompare(b.path);
    expect(turn.toSorted(byPath)).toEqual([...there].sort(byPath));
  });
});
