import { describe, expect, it } from "vitest";
import { betterSkew, clockSkew } from "@/lib/offline/device/clock-skew";

describe("clock skew", () => {
  it("takes the server's time for the middle of the exchange", () => {
    // RFC 5905 section 8: offset of the server = ((T2 - T1) + (T3 - T4)) / 2; here T1 = 1000, T2 = T3 = 61200, T4 = 1400,
    // so the server is 60000 ms ahead and the device 60000 ms behind.
    expect(clockSkew({ sentAt: 1000, answeredAt: 1400, serverTime: 61_200 })).toEqual({
      skewMs: -60_000,
      uncertaintyMs: 200,
      at: 1400,
    });
  });

  it("keeps the exchange with the shorter way, unless the clock was set meanwhile", () => {
    const short = { skewMs: 100, uncertaintyMs: 10, at: 0 };
    expect(betterSkew(short, { skewMs: 150, uncertaintyMs: 80, at: 1000 })).toBe(short);
    const set = { skewMs: 5000, uncertaintyMs: 80, at: 1000 };
    expect(betterSkew(short, set)).toBe(set);
    const old = { skewMs: 120, uncertaintyMs: 80, at: 11 * 60_000 };
    expect(betterSkew(short, old)).toBe(old);
  });
});
