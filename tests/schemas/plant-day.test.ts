import { describe, expect, it } from "vitest";
import { plantDayEnd, plantDayStart } from "@/lib/schemas/plant-day";

// Source of the moments: the rules of the IANA time zone database for each zone (from memory).
describe("a day by the plant's clock", () => {
  it.each([
    { day: "2026-06-05", zone: "UTC", start: "2026-06-05T00:00:00.000Z", end: "2026-06-05T23:59:59.999Z" },
    { day: "2026-06-05", zone: "Pacific/Auckland", start: "2026-06-04T12:00:00.000Z", end: "2026-06-05T11:59:59.999Z" },
    { day: "2026-01-05", zone: "Asia/Kolkata", start: "2026-01-04T18:30:00.000Z", end: "2026-01-05T18:29:59.999Z" },
    { day: "2026-03-08", zone: "America/New_York", start: "2026-03-08T05:00:00.000Z", end: "2026-03-09T03:59:59.999Z" },
    { day: "2026-10-25", zone: "Europe/Lisbon", start: "2026-10-24T23:00:00.000Z", end: "2026-10-25T23:59:59.999Z" },
    {
      day: "2018-02-18",
      zone: "America/Sao_Paulo",
      start: "2018-02-18T03:00:00.000Z",
      end: "2018-02-19T02:59:59.999Z",
    },
    // Midnight did not exist: the clocks went from 00:00 to 01:00.
    {
      day: "2018-11-04",
      zone: "America/Sao_Paulo",
      start: "2018-11-04T03:00:00.000Z",
      end: "2018-11-05T01:59:59.999Z",
    },
  ])("$day in $zone", ({ day, zone, start, end }) => {
    expect(plantDayStart(day, zone).toISOString()).toBe(start);
    expect(plantDayEnd(day, zone).toISOString()).toBe(end);
  });
});
