import { describe, expect, it } from "vitest";
import {
  angleSeenFrom,
  directionWords,
  formatClockSeenFrom,
  formatDirection,
  formatOclock,
} from "@/lib/format/clock-text";
import { formatReading } from "@/lib/format/reading-text";

// Source: definition of the clock in this project: from the non-drive side position h shows as 12 - h (4 -> 8;
// 1:30-7:30 -> 10:30-4:30).
describe("clock positions for a side of view", () => {
  it("shows h from the drive side and 12 - h from the non-drive side", () => {
    expect(formatClockSeenFrom(120, "ds")).toBe("4");
    expect(formatClockSeenFrom(120, "nds")).toBe("8");
    expect(formatClockSeenFrom(0, "nds")).toBe("12");
    expect(formatClockSeenFrom(180, "nds")).toBe("6");
    for (let hour = 1; hour < 12; hour += 1) expect(formatClockSeenFrom(hour * 30, "nds")).toBe(String(12 - hour));
  });
  it("mirrors a direction end by end", () => {
    expect(formatDirection(45, "ds")).toBe("1:30–7:30");
    expect(formatDirection(45, "nds")).toBe("10:30–4:30");
    expect(formatDirection(90, "nds")).toBe("9–3");
    expect(formatDirection(0, "nds")).toBe("12–6");
  });
  it("mirrors twice into itself", () => {
    for (const angle of [0, 15, 45, 120, 359]) expect(angleSeenFrom(angleSeenFrom(angle, "nds"), "nds")).toBe(angle);
  });
  it("says positions and directions in words", () => {
    expect(formatOclock(120)).toBe("4\u00a0o’clock");
    expect(formatOclock(135)).toBe("4:30");
    expect(directionWords(90)).toBe("front to rear");
    expect(directionWords(45)).toBeNull();
  });
  it("names a reading as it is asked for on either side", () => {
    const bore = { kind: "bore", seat: "nds", depthMm: 2, directionDeg: 45 } as const;
    expect(formatReading(bore, "ds").title).toBe("NDS seat, 1:30–7:30");
    expect(formatReading(bore, "nds").title).toBe("NDS seat, 10:30–4:30");
    expect(formatReading({ ...bore, depthMm: 1.5 }, "ds", ",").detail).toBe("1,5\u00a0mm deep");
  });
});
