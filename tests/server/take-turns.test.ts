import { describe, expect, it } from "vitest";
import { hurry, inSlices, isHurried, standBack } from "@/lib/server/base/take-turns";

/** Keeps the thread for longer than a slice, ms. */
function busy(): void {
  const until = performance.now() + 8;
  while (performance.now() < until);
}

describe("work in slices", () => {
  it("lets the event loop go round between two slices, and ends what began first before the next", async () => {
    const done: string[] = [];
    let rounds = 0;
    let isOver = false;
    const goRound = (): void => {
      rounds += 1;
      if (!isOver) setImmediate(goRound);
    };
    setImmediate(goRound);
    const work = async (name: string): Promise<void> => {
      const slices = inSlices();
      await slices.next();
      for (let step = 0; step < 5; step += 1) {
        if (slices.isOver()) await slices.next();
        busy();
        done.push(name);
      }
    };
    await Promise.all([work("a"), work("b"), work("c")]);
    isOver = true;
    expect(done.join("")).toBe("aaaaabbbbbccccc");
    // 15 slices, each in a round of its own.
    expect(rounds).toBeGreaterThanOrEqual(14);
  });

  it("does not wait where nothing was long", () => {
    expect(inSlices().isOver()).toBe(false);
  });
});

const sleep = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe("standing back for a station", () => {
  it("waits until nobody at a station waits any more", async () => {
    const order: string[] = [];
    const station = hurry(async () => {
      await sleep(5);
      order.push("recorded");
    });
    expect(isHurried()).toBe(true);
    await Promise.all([station, standBack().then(() => order.push("the long work"))]);
    expect(order).toEqual(["recorded", "the long work"]);
    expect(isHurried()).toBe(false);
    await standBack();
  });

  it("ends also where what was hurried fails", async () => {
    await expect(hurry(() => Promise.reject(new Error("refused")))).rejects.toThrow("refused");
    expect(isHurried()).toBe(false);
  });

  it("goes on after a while, however many record, and at once where a station may wait for the work itself", async () => {
    let end = () => {};
    const station = hurry(() => new Promise<void>((resolve) => (end = resolve)));
    await inSlices().next();
    let isOn = false;
    const locked = inSlices({ holdsLock: true })
      .next()
      .then(() => (isOn = true));
    await new Promise((resolve) => setImmediate(resolve));
    await new Promise((resolve) => setImmediate(resolve));
    expect(isOn).toBe(true);
    end();
    await Promise.all([station, locked]);
  });
});
