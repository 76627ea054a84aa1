import { describe, expect, it } from "vitest";
import { formatDay, formatDuration, formatInstant, formatMoment, formatTimeOfDay } from "@/lib/format/date-text";

const berlin = { zone: "Europe/Berlin" } as const;

// Expected: ISO 8601 writing; summer time in Central Europe is UTC+2 (IANA time zone database).
describe("dates and times as text", () => {
  it("writes a moment in the plant's zone and says the zone", () => {
    expect(formatMoment("2026-06-12T12:41:32Z", berlin)).toBe("2026-06-12 14:41\u00a0CEST");
    expect(formatMoment("2026-01-12T12:41:32Z", berlin)).toBe("2026-01-12 13:41\u00a0CET");
  });
  // Kathmandu is UTC+5:45, St. John's UTC-2:30 in summer (IANA time zone database). What a label of Line prints is this text.
  it("writes it so on a device whose own clock is in another zone", () => {
    const before = process.env.TZ;
    process.env.TZ = "America/St_Johns";
    try {
      expect(new Date("2026-06-12T20:41:32Z").getHours()).toBe(18);
      expect(formatMoment("2026-06-12T20:41:32Z", { zone: "Asia/Kathmandu" })).toMatch(/^2026-06-13 02:26\u00a0/);
    } finally {
      if (before === undefined) delete process.env.TZ;
      else process.env.TZ = before;
    }
  });
  // Clocks went forward on 2026-03-29 and go back on 2026-10-25 at 01:00 UTC (directive 2000/84/EC); Kathmandu is UTC+5:45,
  // St. John's UTC-2:30 in summer (IANA time zone database).
  it.each([
    ["2026-03-29T00:59:59.999Z", "Europe/Berlin", "2026-03-29T01:59:59.999+01:00"],
    ["2026-03-29T01:00:00.000Z", "Europe/Berlin", "2026-03-29T03:00:00.000+02:00"],
    ["2026-10-25T00:30:00.000Z", "Europe/Berlin", "2026-10-25T02:30:00.000+02:00"],
    ["2026-10-25T01:30:00.000Z", "Europe/Berlin", "2026-10-25T02:30:00.000+01:00"],
    ["2026-06-03T20:00:00.005Z", "Asia/Kathmandu", "2026-06-04T01:45:00.005+05:45"],
    ["2026-06-03T01:00:00.000Z", "America/St_Johns", "2026-06-02T22:30:00.000-02:30"],
    ["2026-06-03T20:00:00.000Z", "UTC", "2026-06-03T20:00:00.000+00:00"],
  ])("writes %s for files by the clock of %s, and the same moment", (time, zone, text) => {
    expect(formatInstant(time, zone)).toBe(text);
    expect(Date.parse(formatInstant(time, zone))).toBe(Date.parse(time));
  });
  it("takes the day of the zone, not of UTC", () => {
    expect(formatDay("2026-06-11T22:30:00Z", berlin)).toBe("2026-06-12");
    expect(formatDay("2026-06-11T22:30:00Z", { ...berlin, style: "locale" })).toBe("12 June 2026");
  });
  it("writes the time of day with or without seconds", () => {
    expect(formatTimeOfDay("2026-06-12T12:41:32Z", "Europe/Berlin")).toBe("14:41");
    expect(formatTimeOfDay("2026-06-12T22:00:05Z", "Europe/Berlin", true)).toBe("00:00:05");
  });
  it("says that there is no date instead of showing an invalid one", () => {
    expect(formatMoment("soon", berlin)).toBe("no date");
  });
  it("writes a stretch of time in its largest fitting unit", () => {
    expect([0, 40, 240, 3600 * 3.5, 86_400, 86_400 * 5].map(formatDuration)).toEqual([
      "0\u00a0s",
      "40\u00a0s",
      "4\u00a0min",
      "3\u00a0h",
      "1\u00a0day",
      "5\u00a0days",
    ]);
  });
});
