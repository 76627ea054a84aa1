import { describe, expect, it } from "vitest";
import { isTimeZone, parseMeasuredAt } from "@/lib/schemas/measurement-file/measured-at";

const at = (text: string, zone: string | null = null) => {
  const result = parseMeasuredAt(text, zone);
  return result.ok ? new Date(result.value.epochMs).toISOString() : null;
};
const assumed = (text: string, zone: string | null) => {
  const result = parseMeasuredAt(text, zone);
  return result.ok ? result.value.assumed : "refused";
};

describe("parseMeasuredAt", () => {
  // Expected instants follow from ISO 8601 and from the public rules of summer time (last Sundays of March and October,
  // 01:00 UTC), worked out by hand.
  it.each([
    ["2026-06-03T08:15:00+02:00", "2026-06-03T06:15:00.000Z"],
    ["2026-06-03T08:15Z", "2026-06-03T08:15:00.000Z"],
    ["2026-06-03 08:15:00.250-0530", "2026-06-03T13:45:00.250Z"],
    ["2026-06-03T08:15:00,5+02", "2026-06-03T06:15:00.500Z"],
    ["2024-02-29T00:00:00Z", "2024-02-29T00:00:00.000Z"],
  ])("reads %s", (text, expected) => expect(at(text)).toBe(expected));

  it("takes a time without offset in the zone given, summer and winter", () => {
    expect(at("2026-06-03T08:15:00", "Europe/Vienna")).toBe("2026-06-03T06:15:00.000Z");
    expect(at("2026-12-03T08:15:00", "Europe/Vienna")).toBe("2026-12-03T07:15:00.000Z");
    expect(at("2026-06-03T08:15:00", "+05:30")).toBe("2026-06-03T02:45:00.000Z");
    expect(at("2026-06-03T08:15:00", "America/St_Johns")).toBe("2026-06-03T10:45:00.000Z");
  });

  it("takes it as UTC without a zone, and says so", () => {
    expect(at("2026-06-03T08:15:00")).toBe("2026-06-03T08:15:00.000Z");
    expect(assumed("2026-06-03T08:15:00", null)).toBe("utc");
    expect(assumed("2026-06-03T08:15:00Z", null)).toBeNull();
  });

  it("refuses a time that the clocks skip and takes the earlier of two when they go back", () => {
    expect(at("2026-03-29T02:30:00", "Europe/Vienna")).toBeNull();
    expect(at("2026-10-25T02:30:00", "Europe/Vienna")).toBe("2026-10-25T00:30:00.000Z");
    expect(assumed("2026-10-25T02:30:00", "Europe/Vienna")).toBe("earlier-of-two");
    expect(assumed("2026-10-25T03:30:00", "Europe/Vienna")).toBeNull();
  });

  it.each([
    "2026-02-30T08:00Z",
    "2026-13-01T08:00Z",
    "2026-06-03T24:00Z",
    "2026-06-03",
    "03.06.2026 08:15",
    "yesterday",
    "2026-06-03T08:15+15:00",
    "1780000000",
    // As a file of a clock that was never set; Date.UTC would take the year 26 for 1926.
    "0000-01-01T00:00:00Z",
    "0026-06-03T08:15:00Z",
  ])("refuses %s", (text) => expect(at(text)).toBeNull());
});

describe("isTimeZone", () => {
  it("knows IANA names and offsets", () => {
    expect(["Europe/Vienna", "UTC", "+02:00", "Z"].every(isTimeZone)).toBe(true);
    expect(["Europe/Atlantis", "", "+25:00"].some(isTimeZone)).toBe(false);
  });
});
