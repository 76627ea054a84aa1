import { expect, it } from "vitest";
import { runLineKills } from "../helpers/line-kills";

it("loses and doubles no reading, and keeps their order, while pages, worker, network and servers are killed", async () => {
  const result = await runLineKills({ seed: 41, stations: 2, frames: 10, kills: 6 });
  expect(result.faults).toEqual([]);
  expect(result.frames).toBe(20);
  expect(Object.values(result.kills).reduce((sum, count) => sum + count, 0)).toBeGreaterThanOrEqual(10);
});
