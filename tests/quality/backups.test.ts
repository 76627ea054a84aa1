import { describe, expect, it } from "vitest";
import { type KeptBackup, supersededBackups } from "@/lib/quality/backups/superseded-backups";

const DAY_MS = 86_400_000;
/** One a day from 2026-01-01 on. */
const daily = (days: number): KeptBackup[] =>
  Array.from({ length: days }, (_, index) => ({
    number: index + 1,
    day: new Date(Date.UTC(2026, 0, 1) + index * DAY_MS).toISOString().slice(0, 10),
  }));
const keptOf = (backups: readonly KeptBackup[], newest: number, weeks: number, months: number): readonly string[] => {
  const gone = new Set(supersededBackups(backups, { newest, weeks, months }));
  return backups.filter(({ number }) => !gone.has(number)).map(({ day }) => day);
};

describe("which backups stay", () => {
  it("are the newest, the last of each week and of each month", () => {
    // By a calendar of 2026: 1 January is a Thursday, so 1 March and 22 February are Sundays, and weeks begin on Mondays.
    expect(keptOf(daily(62), 3, 3, 3)).toEqual([
      "2026-01-31",
      "2026-02-22",
      "2026-02-28",
      "2026-03-01",
      "2026-03-02",
      "2026-03-03",
    ]);
  });

  it("are as many as there are where there are fewer", () => {
    expect(keptOf(daily(5), 7, 4, 12)).toHaveLength(5);
    expect(supersededBackups([], { newest: 7, weeks: 4, months: 12 })).toEqual([]);
  });

  it("always has the newest, whatever is wanted", () => {
    expect(keptOf(daily(40), 0, 0, 0)).toEqual(["2026-02-09"]);
  });

  it("loses none that its number keeps where a clock jumps", () => {
    const ahead = daily(30).map((one) => (one.number >= 24 ? { ...one, day: `2036-05-${one.number}` } : one));
    const back = [...ahead, { number: 31, day: "2026-01-31" }, { number: 32, day: "2026-02-01" }];
    const gone = new Set(supersededBackups(back, { newest: 7, weeks: 0, months: 0 }));
    expect(back.filter(({ number }) => !gone.has(number)).map(({ number }) => number)).toEqual([
      26, 27, 28, 29, 30, 31, 32,
    ]);
  });

  it("is the same after the others were removed", () => {
    const all = daily(100);
    const rotation = { newest: 7, weeks: 4, months: 12 };
    const gone = new Set(supersededBackups(all, rotation));
    const left = all.filter(({ number }) => !gone.has(number));
    expect(supersededBackups(left, rotation)).toEqual([]);
  });
});
