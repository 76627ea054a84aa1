import { describe, expect, it } from "vitest";
import {
  findingHeadline,
  findingSentence,
  formatStreamValue,
  ruleWords,
  streamName,
  streamTitle,
  streamUnit,
} from "@/lib/format/stream-words";

const plain = (text: string) => text.replaceAll("\u00a0", " ");
const number = (index: number) => index + 1;
const drift = { kind: "moved", shape: "drift", since: 61, before: 45.978, now: 45.964, slope: -0.00029 } as const;

describe("the words of a stream", () => {
  it("names features by seat", () => {
    expect(streamName("nds.bore.mean")).toBe("NDS bore");
    expect(streamName("ds.bore.range")).toBe("spread within the DS bore");
    expect(streamName("nds.face")).toBe("NDS face run-out");
    expect(streamName("width.mean")).toBe("width");
    expect(streamTitle("nds.tilt")).toBe("Tilt of the NDS seat, arc min");
    expect(streamTitle("ds.bore.mean")).toBe("Mean diameter of the DS seat, mm");
  });

  it("shows sizes in mm, form in µm and tilt in arc minutes", () => {
    expect(streamUnit("ds.bore.mean")).toEqual({ unit: "mm", decimals: 3 });
    expect(plain(formatStreamValue(45.9784, "ds.bore.mean"))).toBe("45.978 mm");
    expect(plain(formatStreamValue(11.42, "ds.ovality"))).toBe("11.4 µm");
    expect(formatStreamValue(1.254, "nds.tilt")).toBe("1.25′");
    expect(plain(formatStreamValue(45.9784, "ds.bore.mean", ","))).toBe("45,978 mm");
  });

  it("states the finding as a headline and a sentence", () => {
    expect(plain(findingHeadline(drift, "nds.bore.mean", number))).toBe("0.014 mm down since frame 62");
    expect(plain(findingSentence(drift, "nds.bore.mean", number))).toBe(
      "45.978 mm until frame 61, then 0.29 µm smaller with every frame; now 45.964 mm.",
    );
    const step = { ...drift, shape: "step", before: 5, now: 8.4, slope: 0 } as const;
    expect(plain(findingHeadline(step, "ds.ovality", number))).toBe("3.4 µm more since frame 62");
    expect(plain(findingSentence(step, "ds.ovality", number))).toBe(
      "The mean stepped from 5.0 µm to 8.4 µm at frame 62.",
    );
    const off = { kind: "off-baseline", baseline: 45.978, now: 45.974 } as const;
    expect(plain(findingHeadline(off, "ds.bore.mean", number))).toBe("4.0 µm below its baseline");
    expect(plain(findingHeadline({ kind: "steady", level: 1.2 }, "ds.tilt", number))).toBe("steady at 1.20′");
    expect(findingHeadline({ kind: "few", frames: 1 }, "ds.tilt", number)).toBe("1 frame so far");
  });

  it("says each rule with its side", () => {
    expect(ruleWords("zone-4", "lower")).toBe("8 in a row on one side of the mean, low");
    expect(ruleWords("test-1")).toBe("beyond the control limit");
  });
});
