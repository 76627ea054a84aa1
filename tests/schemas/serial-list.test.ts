import { describe, expect, it } from "vitest";
import { readSerialList } from "@/lib/schemas/serial-list";
import { cpuTime } from "../helpers/machine-time";

describe("readSerialList", () => {
  it("expands a range and keeps its leading zeros", () => {
    const { serials, problems } = readSerialList("C41-05000..C41-05047");
    expect(problems).toEqual([]);
    expect(serials).toHaveLength(48);
    expect(serials[0]).toEqual({ serial: "C41-05000", line: 1 });
    expect(serials[47]).toEqual({ serial: "C41-05047", line: 1 });
  });

  it("reads a pasted list with moulds behind tab, comma or semicolon", () => {
    const { serials } = readSerialList("A1\tM1\r\n\nA2, M2\nA3;M3\nB1..B2;M4");
    expect(serials).toEqual([
      { serial: "A1", mould: "M1", line: 1 },
      { serial: "A2", mould: "M2", line: 3 },
      { serial: "A3", mould: "M3", line: 4 },
      { serial: "B1", mould: "M4", line: 5 },
      { serial: "B2", mould: "M4", line: 5 },
    ]);
  });

  it.each([
    ["A1\nA2\nA1", 3, "A1 stands in line 1 already"],
    ["A1..A3\nA2", 2, "A2 stands in line 1 already"],
    ["A5..A2", 1, "the first number must not be above the last"],
    ["A1..B2", 1, 'both ends must begin the same, but "A" is not "B"'],
    ["A1..A10", 1, "both ends must have the same number of digits"],
    ["A00000..A99999", 1, "a batch has at most 10000 frames"],
    ["A..B", 1, "both ends of a range must end in a number, as C41-05000..C41-05047"],
    ["A1..A2..A3", 1, "a range has two ends"],
    ["A1,M1,x", 1, "a line has a serial and at most a mould"],
    [";M1", 1, "the serial is missing"],
    ["A 1", 1, "a serial has no spaces in it"],
  ])("names the line of what it refuses: %j", (text, line, message) => {
    expect(readSerialList(text).problems).toEqual([{ line, message }]);
  });

  it.each([
    ["a range of one long number", `${"1".repeat(200_000)}..${"1".repeat(199_999)}x`],
    ["digits without an end", `A${"1".repeat(399_000)}x..B`],
    ["dots", "..".repeat(200_000)],
    ["one range again and again", "1..4000\n".repeat(50_000)],
    ["bad lines only", "A 1\n".repeat(100_000)],
    ["cells", "A,".repeat(200_000)],
  ])("takes no longer than its text deserves: %s", (_what, text) => {
    const floor = cpuTime(() => JSON.parse(JSON.stringify(text.split("").map((character) => ({ character })))));
    const own = cpuTime(() => readSerialList(text));
    expect(readSerialList(text).problems.length).toBeLessThanOrEqual(50);
    expect(own).toBeLessThan(10 * floor + 20);
  });

  it("refuses numbers that cannot be counted exactly, and ranges of too long serials", () => {
    const message = (text: string) => readSerialList(text).problems[0]?.message;
    expect(message("9007199254740993..9007199254740995")).toBe("the number at the end is too large to count with");
    expect(message(`${"A".repeat(64)}1..${"A".repeat(64)}2`)).toBe("a serial has at most 64 characters");
  });
});
