import { describe, expect, it } from "vitest";
import { limitCell } from "@/app/line/_components/keying/keying-view";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";

describe("the limit beside what is keyed", () => {
  // Limits of the demonstration drawing (invented); each reading with the characteristic that it is taken for.
  it.each([
    ["bore", "seat ø, limits", "40.950 to 41.000 mm"],
    ["plug", "seat ø, limits", "40.950 to 41.000 mm"],
    ["sweep", "coaxiality, limit", "at most 100 µm"],
    ["face", "face run-out, limit", "at most 50 µm"],
    ["bar", "tilt, limit", "at most 4′"],
    ["width", "shell width, limits", "86.300 to 86.700 mm"],
  ] as const)("of a %s is its own: %s %s", (kind, label, value) => {
    const cell = limitCell(PRESS_FIT_41, kind, ".");
    expect([cell.label, cell.value.replaceAll("\u00a0", " ")]).toEqual([label, value]);
  });
});
