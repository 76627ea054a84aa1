import { describe, expect, it } from "vitest";
import { inSlices } from "@/lib/server/base/take-turns";

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
