import { describe, expect, it } from "vitest";
import { TypedAhead } from "@/lib/offline/device/typed-ahead";

describe("keys that no field took", () => {
  it("go to the next field in the order in which they were struck, also what stood half typed", () => {
    const keys = new TypedAhead();
    keys.add("7", "reading");
    keys.add("5x", "reading");
    keys.back();
    keys.lead("40.9", "scan");
    expect(keys.text()).toBe("40.975");
    expect(keys.takeFor("reading")).toEqual({ text: "40.975", early: "" });
    expect(keys.takeFor("reading")).toEqual({ text: "", early: "" });
  });

  it("answer a zero check only where they were typed at the zero check of that gauge", () => {
    const keys = new TypedAhead();
    keys.add("40.", "scan");
    keys.add("41.", "zero BG-2");
    keys.add("40.975", "zero BG-1");
    expect(keys.takeFor("zero BG-1")).toEqual({ text: "40.975", early: "40.41." });
    keys.add("40.975", "zero BG-1");
    expect(keys.takeFor("reading")).toEqual({ text: "", early: "40.975" });
  });

  it("never answer with a word", () => {
    const keys = new TypedAhead();
    keys.add("1", "reading");
    expect(keys.takeFor("word")).toEqual({ text: "", early: "1" });
    keys.add("2", "word");
    expect(keys.takeFor("reading")).toEqual({ text: "", early: "2" });
    keys.add("2", "word");
    expect(keys.takeFor("word")).toEqual({ text: "", early: "2" });
  });

  it("tell their listeners", () => {
    const keys = new TypedAhead();
    const seen: string[] = [];
    const stop = keys.subscribe(() => seen.push(keys.text()));
    keys.add("4", "reading");
    keys.back();
    keys.back();
    stop();
    keys.add("5", "reading");
    expect(seen).toEqual(["4", ""]);
  });
});
