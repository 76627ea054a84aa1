import { expect, it } from "vitest";
import { journalAction, journalDetail } from "@/lib/format/journal-words";

it("writes an action as words", () => {
  expect(journalAction("sign-in-refused")).toBe("sign in refused");
  expect(journalAction("drawing.draft-changed")).toBe("drawing draft changed");
});

it.each<[string, unknown, string | null, string]>([
  [
    "a refused sign-in",
    { address: "192.0.2.7", reason: "wrong password" },
    "Ines",
    "Ines, wrong password, from 192.0.2.7",
  ],
  ["a sign-in on this machine", { address: null }, null, "on this machine"],
  ["one inspection", { frames: [["C41-1", "conforms", "measured"]] }, null, "C41-1: conforms"],
  ["many inspections", { frames: [["a"], ["b"]] }, null, "2 frames"],
  ["a decision", { batch: "B-1", serials: ["x", "y"] }, null, "B-1, 2 serials"],
  ["one frame of a batch", { batch: "B-1", serials: ["x"] }, null, "B-1, x"],
  ["a revision", { key: "press-fit-41", revision: "B" }, null, "press-fit-41, revision B"],
  ["a person who is named twice", { name: "Ines", roles: ["dock"] }, "Ines", "Ines"],
  [
    "a part that was changed",
    {
      key: "L1",
      before: { name: "Line 1", inUse: true, ring: null },
      after: { name: "Alloy", inUse: false, ring: "R1" },
    },
    null,
    "L1, name Line 1 → Alloy, in use yes → no, ring none → R1",
  ],
  ["roles that were changed", { before: ["dock"], after: ["inspector"] }, "Ines", "Ines"],
  ["nothing", null, null, ""],
  ["a number", 7, null, ""],
])("says what %s is about", (_, payload, about, words) => {
  expect(journalDetail(payload, about)).toBe(words);
});

it("keeps a long text to one line", () => {
  const detail = journalDetail({ text: "x".repeat(500) }, null);
  expect(detail).toHaveLength(120);
  expect(detail.endsWith("…")).toBe(true);
});
