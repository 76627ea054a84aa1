import { describe, expect, it } from "vitest";
import {
  characteristicOf,
  FEATURE_NAMES,
  FEATURES,
  featureBeside,
  featureNamed,
  type FeatureName,
} from "@/lib/core/metrology/features";
import { CHARTED_STREAMS } from "@/lib/quality/control-limits";

describe("features", () => {
  // Rows of inspections are stored in this order, and every plant has some: what is added goes to the end.
  it("stand in the order of storage", () => {
    expect(FEATURE_NAMES.join(" ")).toBe(
      "ds.bore.smallest ds.bore.largest ds.bore.mean nds.bore.smallest nds.bore.largest nds.bore.mean ds.ovality nds.ovality " +
        "ds.taper nds.taper coaxiality offset.12 offset.3 ds.tilt nds.tilt ds.face nds.face width.smallest width.largest " +
        "width.mean ds.bore.range nds.bore.range coaxiality.common",
    );
  });

  // Design A1: the mean carries no limit of its own; A4: the zone to the common axis is shown without a limit.
  it("are judged where their characteristic has a limit on that number", () => {
    const unjudged = FEATURE_NAMES.filter((name) => characteristicOf(name) === null);
    expect(unjudged.join(" ")).toBe(
      "ds.bore.mean nds.bore.mean offset.12 offset.3 width.mean ds.bore.range nds.bore.range coaxiality.common",
    );
    expect(characteristicOf("nds.face")).toEqual({ name: "face run-out", seat: "nds" });
    expect(characteristicOf("width.largest")).toEqual({ name: "width", seat: null });
    expect(characteristicOf("coaxiality")).toEqual({ name: "coaxiality", seat: "nds" });
  });

  // Design B3: sizes as individuals, form and position by quantiles, the offset as a vector elsewhere.
  it("are charted as their row says", () => {
    expect(CHARTED_STREAMS.map(({ feature, kind }) => `${feature} ${kind}`)).toEqual([
      "ds.bore.mean individuals",
      "nds.bore.mean individuals",
      "width.mean individuals",
      ...["ds.bore.range", "nds.bore.range", "ds.ovality", "nds.ovality", "ds.taper", "nds.taper"].map(
        (name) => `${name} quantile`,
      ),
      ...["ds.tilt", "nds.tilt", "ds.face", "nds.face"].map((name) => `${name} quantile`),
    ]);
    expect(CHARTED_STREAMS.filter(({ absolute }) => absolute).map(({ feature }) => feature)).toEqual([
      "ds.taper",
      "nds.taper",
    ]);
  });

  it("name their seat as their row says, each once", () => {
    expect(new Set(FEATURE_NAMES).size).toBe(FEATURES.length);
    for (const { name, seat } of FEATURES) {
      const [head = ""] = name.split(".");
      if (head === "ds" || head === "nds") expect({ name, seat }).toEqual({ name, seat: head });
    }
  });

  it("find those that stand beside them", () => {
    expect(featureBeside("nds.bore.mean", "range")).toBe("nds.bore.range");
    expect(featureBeside("width.mean", "smallest")).toBe("width.smallest");
    expect(featureBeside("width.mean", "range")).toBeNull();
    expect(() => featureNamed("bore" as FeatureName)).toThrow("is no feature");
  });
});
