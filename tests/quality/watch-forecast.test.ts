import { describe, expect, it } from "vitest";
import { watchForecast } from "@/lib/quality/watch-forecast";

/** Falls by 0.2 µm a frame from 45.980 mm, with 0.1 µm to either side in turns. */
const worn = Array.from({ length: 60 }, (_, at) => 45.98 - 0.0002 * at + 0.0001 * (-1) ** at);
const given = {
  values: worn,
  tools: worn.map(() => "R46-3"),
  limits: { lower: 45.956, upper: 45.994 },
  framesADay: 30,
  isChanged: false,
};

describe("watchForecast", () => {
  it("says when the tool in use meets the limit", () => {
    // The line is at 45.980 - 0.0002 * 59 = 45.9682 mm: (45.9682 - 45.956) / 0.0002 = 61 frames, by hand.
    const found = watchForecast(given);
    expect(found).toMatchObject({ tool: "R46-3", limit: "lower", limitValue: 45.956 });
    expect(Math.abs((found?.estimate ?? 0) - 61)).toBeLessThan(1);
    expect(found?.interval[0]).toBeLessThan(61);
    expect(found?.interval[1]).toBeGreaterThan(61);
  });

  it("says nothing of a tool that was changed since, nor where frames carry none", () => {
    expect(watchForecast({ ...given, isChanged: true })).toBeNull();
    expect(watchForecast({ ...given, tools: worn.map(() => null) })).toBeNull();
    expect(watchForecast({ ...given, values: [], tools: [] })).toBeNull();
  });

  it("counts the frames of the tool in use only", () => {
    const values = [...worn, ...Array.from({ length: 40 }, (_, at) => 45.98 + 0.0001 * (-1) ** at)];
    const tools = values.map((_, at) => (at < 60 ? "R46-3" : "R46-4"));
    expect(watchForecast({ ...given, values, tools })).toBeNull();
  });

  it("says nothing of a limit that is months away, nor of one that the trend leads away from", () => {
    expect(watchForecast({ ...given, framesADay: 1 })).toBeNull();
    expect(watchForecast({ ...given, limits: { lower: null, upper: 45.994 } })).toBeNull();
  });
});
