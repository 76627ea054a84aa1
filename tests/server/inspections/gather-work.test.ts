import { describe, expect, it } from "vitest";
import { hurry } from "@/lib/server/base/take-turns";
import { gatherWork } from "@/lib/server/inspections/gather-work";

const tick = () => new Promise((resolve) => setTimeout(resolve, 5));

describe("gatherWork", () => {
  it("runs together what arrived while one ran, each key for itself", async () => {
    const runs: string[] = [];
    const { gather } = gatherWork(
      (place: string) => place,
      async (place, items: readonly number[]) => {
        await tick();
        runs.push(`${place} ${items.join()}`);
        return new Map(items.map((item) => [item, item * 2]));
      },
    );
    const answers = await Promise.all([
      gather("a", [1], true),
      gather("a", [2, 3], true),
      gather("b", [9], true),
      gather("a", [4], true),
    ]);
    expect(answers.map((answer) => [...answer.values()])).toEqual([[2], [4, 6], [18], [8]]);
    expect(runs.sort()).toEqual(["a 1", "a 2,3,4", "b 9"]);
  });

  it("lets nobody fail for somebody else's item", async () => {
    const { gather } = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => {
        await tick();
        if (items.includes(0)) throw new Error("zero");
        return new Map(items.map((item) => [item, item]));
      },
    );
    const answers = await Promise.allSettled([1, 2, 0, 3].map((item) => gather("", [item], true)));
    expect(answers.map((answer) => answer.status)).toEqual(["fulfilled", "fulfilled", "rejected", "fulfilled"]);
  });

  it("takes calls of one frame and calls of a hundred by turns, so that neither waits for all of the other", async () => {
    const runs: string[] = [];
    const many = (first: number) => Array.from({ length: 100 }, (_, index) => first + index);
    const { gather } = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => {
        await tick();
        runs.push(items.length > 5 ? `${items.length} from ${items[0]}` : items.join());
        return new Map(items.map((item) => [item, item]));
      },
    );
    const first = Array.from({ length: 6 }, (_, index) => gather("", many(100 * (index + 1)), false));
    await Promise.all([...first, gather("", [1], true), gather("", [2], true)]);
    expect(runs).toEqual(["100 from 100", "1,2", ...[200, 300, 400, 500, 600].map((start) => `100 from ${start}`)]);
  });

  it("takes calls of many together while no call of few comes", async () => {
    const runs: number[] = [];
    const { gather, isBesideFew } = gatherWork(
      (place: string) => place,
      async (_, items: readonly number[]) => {
        await tick();
        runs.push(items.length);
        return new Map(items.map((item) => [item, item]));
      },
    );
    const many = Array.from({ length: 100 }, (_, index) => index);
    await Promise.all(Array.from({ length: 6 }, () => gather("a", many, false)));
    expect([runs, isBesideFew("a")]).toEqual([[100, 500], false]);
    await gather("a", [1], true);
    expect([isBesideFew("a"), isBesideFew("b")]).toEqual([true, false]);
  });

  it("begins no part of many while somebody at a station is about to call, but does not wait for ever", async () => {
    const runs: number[] = [];
    const { gather } = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => {
        await tick();
        runs.push(items.length);
        return new Map(items.map((item) => [item, item]));
      },
    );
    const many = Array.from({ length: 50 }, (_, index) => index);
    // The first turn is of few: the many wait until the frame that is being checked has come.
    const station = hurry(async () => {
      const sent = gather("", many, false);
      await tick();
      await gather("", [1], true);
      return sent;
    });
    await station;
    expect(runs).toEqual([1, 50]);

    let end = () => {};
    const held = hurry(() => new Promise<void>((resolve) => (end = resolve)));
    await gather("", many, false);
    end();
    await held;
    expect(runs).toEqual([1, 50, 50]);
  });

  it("takes the rest of many for many, however few are left", async () => {
    const { gather, isBesideFew } = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => new Map(items.map((item) => [item, item])),
    );
    await gather("", [1, 2, 3], false);
    expect(isBesideFew("")).toBe(false);
  });

  it("takes up work again after it was done", async () => {
    const { gather } = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => new Map(items.map((item) => [item, item])),
    );
    await gather("", [1], true);
    expect([...(await gather("", [2], true)).values()]).toEqual([2]);
  });
});
