import { describe, expect, it } from "vitest";
import { entryKind, type KnownCodes } from "@/lib/offline/device/entry-kind";

const known: KnownCodes = {
  serials: new Map([
    ["C41-04417", "PM-2606-B"],
    ["40975", "PM-2606-B"],
  ]),
  batches: new Set(["PM-2606-B"]),
  badges: new Map([["D2", "Tavin Quill"]]),
};
const aboutFortyOne = (value: number): boolean => Math.abs(value - 41) < 1;

describe("telling scans from readings", () => {
  it.each([
    ["40.975", { kind: "reading", text: "40.975" }],
    ["40,975", { kind: "reading", text: "40,975" }],
    ["40.975 mm", { kind: "reading", text: "40.975 mm" }],
    ["4098", { kind: "reading", text: "4098" }],
    ["-16", { kind: "reading", text: "-16" }],
    ["C41-04417", { kind: "serial", serial: "C41-04417", batch: "PM-2606-B" }],
    ["C41-99999", { kind: "serial", serial: "C41-99999", batch: null }],
    ["\u0002C41-04417\r", { kind: "serial", serial: "C41-04417", batch: "PM-2606-B" }],
    ["40975", { kind: "serial", serial: "40975", batch: "PM-2606-B" }],
    ["PM-2606-B", { kind: "batch", batch: "PM-2606-B" }],
    ["D2", { kind: "badge", code: "D2", name: "Tavin Quill" }],
  ])("takes %j for what it is while a bore is asked for", (text, expected) => {
    expect(entryKind(text, known, aboutFortyOne)).toEqual(expected);
  });

  it("takes a number for a serial where no reading is asked for", () => {
    expect(entryKind("123456", known, null)).toEqual({ kind: "serial", serial: "123456", batch: null });
  });

  it("takes a code that was typed by hand in other capitals for the one that is known, and for none where two are alike", () => {
    expect(entryKind("d2", known, aboutFortyOne)).toEqual({ kind: "badge", code: "D2", name: "Tavin Quill" });
    expect(entryKind("c41-04417", known, null)).toMatchObject({ kind: "serial", serial: "C41-04417" });
    expect(entryKind("pm-2606-b", known, null)).toEqual({ kind: "batch", batch: "PM-2606-B" });
    const badges = new Map([...known.badges, ["d2", "Rowan Tegg"]]);
    expect(entryKind("d2", { ...known, badges }, null)).toMatchObject({ code: "d2" });
    const serials = new Map([
      ["Ab-1", "B"],
      ["aB-1", "B"],
    ]);
    expect(entryKind("ab-1", { ...known, serials }, null)).toEqual({ kind: "serial", serial: "ab-1", batch: null });
  });

  it("takes a plausible reading for a reading even where a serial reads alike", () => {
    const serials = new Map([["41", "PM-2606-B"]]);
    expect(entryKind("41", { ...known, serials }, aboutFortyOne)).toEqual({ kind: "reading", text: "41" });
  });
});
