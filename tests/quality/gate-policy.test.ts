import { describe, expect, it } from "vitest";
import { DEFAULT_GATE_POLICY, gatePolicyFrom } from "@/lib/quality/gate-policy";

describe("gatePolicyFrom", () => {
  it.each([[{}], [null], ["hold"], [[]], [undefined]])("gives the default policy for %j", (own) => {
    expect(gatePolicyFrom(own)).toEqual(DEFAULT_GATE_POLICY);
  });

  it("changes what the plant changes and nothing else", () => {
    expect(gatePolicyFrom({ signal: "hold", other: { "not proven": "hold" }, capabilityFrames: 100 })).toEqual({
      ...DEFAULT_GATE_POLICY,
      signal: "hold",
      other: { ...DEFAULT_GATE_POLICY.other, "not proven": "hold" },
      capabilityFrames: 100,
    });
  });

  it("keeps the default where the plant's data make no sense", () => {
    expect(gatePolicyFrom({ signal: "explode", critical: "hold", capabilityFrames: 3, colour: "red" })).toEqual(
      DEFAULT_GATE_POLICY,
    );
  });

  // The plant's policy (common practice, no source) on the demonstration drawings (invented).
  it("holds by consequence and never by a signal alone, by default", () => {
    expect(DEFAULT_GATE_POLICY.signal).toBe("inform");
    expect(DEFAULT_GATE_POLICY.critical).toEqual({
      "does not conform": "hold",
      "not proven": "hold",
      "not measured": "hold",
    });
    expect(DEFAULT_GATE_POLICY.other["does not conform"]).toBe("hold");
    expect(DEFAULT_GATE_POLICY.other["not proven"]).toBe("inform");
  });
});
