import { describe, expect, it } from "vitest";
import { gatherWork } from "@/lib/server/inspections/gather-work";

const tick = () => new Promise((resolve) => setTimeout(resolve, 5));

describe("gatherWork", () => {
  it("runs together what arrived while one ran, each key for itself", async () => {
    const runs: string[] = [];
    const work = gatherWork(
      (place: string) => place,
      async (place, items: readonly number[]) => {
        await tick();
        runs.push(`${place} ${items.join()}`);
        return new Map(items.map((item) => [item, item * 2]));
      },
    );
    const answers = await Promise.all([work("a", [1]), work("a", [2, 3]), work("b", [9]), work("a", [4])]);
    expect(answers.map((answer) => [...answer.values()])).toEqual([[2], [4, 6], [18], [8]]);
    expect(runs.sort()).toEqual(["a 1", "a 2,3,4", "b 9"]);
  });

  it("lets nobody fail for somebody else's item", async () => {
    const work = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => {
        await tick();
        if (items.includes(0)) throw new Error("zero");
        return new Map(items.map((item) => [item, item]));
      },
    );
    const answers = await Promise.allSettled([work("", [1]), work("", [2]), work("", [0]), work("", [3])]);
    expect(answers.map((answer) => answer.status)).toEqual(["fulfilled", "fulfilled", "rejected", "fulfilled"]);
  });

  it("takes calls of one frame and calls of a hundred by turns, so that neither waits for all of the other", async () => {
    const runs: string[] = [];
    const many = (first: number) => Array.from({ length: 100 }, (_, index) => first + index);
    const work = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => {
        await tick();
        runs.push(items.length > 5 ? `${items.length} from ${items[0]}` : items.join());
        return new Map(items.map((item) => [item, item]));
      },
    );
    const first = Array.from({ length: 6 }, (_, index) => work("", many(100 * (index + 1))));
    await Promise.all([...first, work("", [1]), work("", [2])]);
    expect(runs).toEqual(["100 from 100", "1,2", "500 from 200"]);
  });

  it("takes up work again after it was done", async () => {
    const work = gatherWork(
      () => "one",
      async (_, items: readonly number[]) => new Map(items.map((item) => [item, item])),
    );
    await work("", [1]);
    expect([...(await work("", [2])).values()]).toEqual([2]);
  });
});
