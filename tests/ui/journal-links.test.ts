import { expect, it } from "vitest";
import { journalLinks } from "@/lib/ui/journal-links";

it.each<[string, string, unknown, string[]]>([
  ["one inspection", "inspections.recorded", { frames: [["C41-1", "conforms", "measured"]] }, ["/frames/C41-1"]],
  ["a serial with a slash", "photo.kept", { serial: "A/1%" }, ["/frames/A%2F1%25"]],
  [
    "a decision on frames of a batch",
    "frames.decided",
    { batch: "B-1", serials: ["x", "y"] },
    ["/gate/batches/B-1", "/frames/x", "/frames/y"],
  ],
  [
    "a new gauge on its ring",
    "gauge.created",
    { key: "BG-1", ring: "R-1" },
    ["/setup/gauges/rings/R-1", "/setup/gauges/BG-1"],
  ],
  ["a released plan", "plan.released", { id: "7" }, ["/setup/plans/7"]],
  ["somebody", "person.created", { personId: "7" }, ["/setup/people/7"]],
  ["a token, whose name is no record", "token.created", { name: "warehouse", tokenId: "7" }, []],
  [
    "frames that a failed check holds",
    "zero-check.failed",
    { gauge: "BG-1", heldSerials: ["x"] },
    ["/setup/gauges/BG-1", "/frames/x"],
  ],
  ["nothing", "signed-out", null, []],
])("leads from %s to its records", (_, action, payload, hrefs) => {
  expect(journalLinks(action, payload).map(({ href }) => href)).toEqual(hrefs);
});

it("leads to the first few frames of a large recording, each once", () => {
  const frames = Array.from({ length: 50 }, (_, n) => [`C41-${n >> 1}`, "conforms", "measured"]);
  expect(journalLinks("inspections.recorded", { frames }).map(({ label }) => label)).toEqual([
    "C41-0",
    "C41-1",
    "C41-2",
    "C41-3",
    "C41-4",
    "C41-5",
  ]);
});
