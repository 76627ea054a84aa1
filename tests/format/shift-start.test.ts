import { describe, expect, it } from "vitest";
import { latestShiftStart } from "@/lib/format/shift-start";

const STARTS = ["06:00", "14:00", "22:00"];

describe("latestShiftStart", () => {
  it.each([
    ["2026-06-03T08:30:12.345Z", "UTC", "2026-06-03T06:00:00.000Z"],
    ["2026-06-03T06:00:00.000Z", "UTC", "2026-06-03T06:00:00.000Z"],
    ["2026-06-03T05:59:59.999Z", "UTC", "2026-06-02T22:00:00.000Z"],
    // Central European summer time is two hours ahead (IANA time zone database).
    ["2026-06-03T04:00:00.000Z", "Europe/Berlin", "2026-06-03T04:00:00.000Z"],
    ["2026-06-03T03:59:00.000Z", "Europe/Berlin", "2026-06-02T20:00:00.000Z"],
  ])("%s in %s is of the shift that began %s", (now, zone, expected) => {
    expect(latestShiftStart(new Date(now), STARTS, zone).toISOString()).toBe(expected);
  });
});
