import { describe, expect, it } from "vitest";
import { fieldInWords } from "@/lib/format/field-words";

describe("fieldInWords", () => {
  it.each([
    ["expiresAt", "end"],
    ["serials[2].mould", "serials, number 3, mould"],
    ["readings.7", "readings, number 8"],
    ["calibratedUntil", "calibrated until"],
    ["stationId", "station"],
    ["grounds", "reason"],
    ["", ""],
  ])("%s is %s", (path, words) => {
    expect(fieldInWords(path)).toBe(words);
  });
});
