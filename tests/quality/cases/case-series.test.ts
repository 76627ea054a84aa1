import { describe, expect, it } from "vitest";
import { layoutCaseStrip } from "@/lib/charts/case-strip";
import { casePlaces, caseSeries, chartedFeatures, offsetAlong } from "@/lib/quality/cases/case-series";
import type { FoundCase } from "@/lib/quality/cases/found-case";

const change = { value: -10, unit: "µm", each: "change" } as const;
const found: FoundCase = {
  since: { serial: "F4", earliest: "F3", latest: "F4" },
  until: "F5",
  kind: "step",
  change,
  lead: "nds.bore.mean",
  towards: null,
  members: [
    { feature: "ds.taper", by: "also moved", sign: 1, change },
    { feature: "ds.bore.mean", by: "signal", sign: -1, change },
    { feature: "nds.bore.mean", by: "signal", sign: -1, change },
  ],
  causes: [],
  answer: { kind: "unknown" },
  foundAt: "F5",
  frames: 2,
  outside: ["F5"],
  framesToLimit: null,
  events: [],
  earlier: [],
};
const serials = ["F1", "F2", "F3", "F4", "F5", "F6"];
const stream = (feature: "ds.bore.mean" | "nds.bore.mean" | "ds.taper", values: readonly (number | null)[]) => ({
  feature,
  values,
  lower: 0,
  upper: null,
});
const values = [10, 12, null, 2, -1, 11];

describe("caseSeries", () => {
  it("has the lead first, then what signalled, with the means before and since", () => {
    const places = casePlaces(found, serials);
    expect(places).toEqual({ since: 3, earliest: 2, latest: 3, until: 4 });
    if (places === null) return;
    const given = [stream("ds.taper", values), stream("ds.bore.mean", values), stream("nds.bore.mean", values)];
    const series = caseSeries(found, places, given, { values: [], limit: null }, 2);
    expect(series.map(({ feature }) => feature)).toEqual(["nds.bore.mean", "ds.bore.mean"]);
    expect(series[0]).toMatchObject({ before: 11, since: 0.5 });
  });

  it("draws a frame outside its limit apart, and one that is inside not", () => {
    const places = { since: 3, earliest: 2, latest: 3, until: 4 };
    const [row] = layoutCaseStrip([{ ...stream("ds.bore.mean", values), before: 11, since: 0.5 }], places, 6).rows;
    const count = (path: string | undefined) => path?.match(/M/g)?.length ?? 0;
    expect([count(row?.before), count(row?.since), count(row?.outside)]).toEqual([3, 1, 1]);
  });

  it("has no place for a case whose first frame is not among the frames", () => {
    expect(casePlaces(found, ["F9"])).toBeNull();
  });

  it("measures the offset along the direction in which it moved", () => {
    // Towards 3 o'clock only the second component counts, towards 6 the first with the other sign.
    expect(offsetAlong([[3, 4], null], 3).map((one) => (one === null ? null : Math.round(one)))).toEqual([4, null]);
    expect(Math.round(offsetAlong([[3, 4]], 6)[0] ?? 0)).toBe(-3);
  });

  it("knows which features of a case have a chart", () => {
    expect(chartedFeatures(["offset.12", "ds.oval.12", "ds.taper"])).toEqual(["ds.taper"]);
  });
});
