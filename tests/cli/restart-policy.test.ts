import { describe, expect, it } from "vitest";
import { keepStarted, restartPolicy } from "@/lib/cli/restart-policy";

const HOUR = 3_600_000;

describe("restartPolicy", () => {
  it("waits longer after each end, a minute at most, and gives up after twenty within an hour", () => {
    const wait = restartPolicy();
    const waits = Array.from({ length: 21 }, (_, n) => wait(n * 1000));
    expect(waits.slice(0, 9)).toEqual([500, 1000, 2000, 4000, 8000, 16_000, 32_000, 60_000, 60_000]);
    expect(waits[19]).toBe(60_000);
    expect(waits[20]).toBeNull();
  });

  it("forgets what is an hour old, however many there were in a lifetime", () => {
    const wait = restartPolicy();
    for (let n = 0; n < 1000; n += 1) expect(wait(n * HOUR)).toBe(500);
  });
});

describe("keepStarted", () => {
  const kept = (starts: (() => Promise<void>)[]) => {
    const said: string[] = [];
    const waited: number[] = [];
    let failed: unknown = null;
    let ending = false;
    const again = keepStarted({
      name: "The web server",
      start: () => starts.shift()?.() ?? Promise.resolve(),
      isEnding: () => ending,
      warn: (text) => said.push(text),
      fail: (error) => (failed = error),
      sleep: async (ms) => waited.push(ms),
      now: () => 0,
    });
    return { again, said, waited, failure: () => failed, end: () => (ending = true) };
  };

  it("goes on where a start fails, and says why the last one did", async () => {
    const { again, said, waited, failure } = kept([
      () => Promise.reject(new Error("port taken")),
      () => Promise.reject(new Error("port taken")),
    ]);
    await again();
    expect(waited).toEqual([500, 1000, 2000]);
    expect(said.at(-1)).toMatch(/started again in 2 s; what was recorded is kept\. The last start failed: port taken/);
    expect(failure()).toBeNull();
  });

  it("fails at last, with the reason, and does nothing once the end has come", async () => {
    const bad = kept(Array.from({ length: 30 }, () => () => Promise.reject(new Error("no room"))));
    await bad.again();
    expect(bad.waited).toHaveLength(20);
    expect(String(bad.failure())).toMatch(
      /The web server ended 21 times within an hour\. The last start failed: no room/,
    );
    const over = kept([]);
    over.end();
    await over.again();
    expect(over.said).toEqual([]);
  });
});
