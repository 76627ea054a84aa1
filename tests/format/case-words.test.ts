import { expect, it } from "vitest";
import { caseHeadline, costWords, sinceWords } from "@/lib/format/case-words";

const change = { value: -8.04, unit: "µm", each: "change" } as const;
const bore = (feature: "ds.bore.mean" | "nds.bore.mean", by: "signal" | "also moved" = "signal") =>
  ({ feature, by, sign: -1, change }) as const;

it("says what moved and by how much, the streams that signalled alone", () => {
  const members = [bore("ds.bore.mean"), bore("nds.bore.mean", "also moved")];
  expect(caseHeadline({ members, kind: "step", change, towards: null })).toBe("DS bore: step of −8.0 µm");
});

it("names the interval of a start where it is not one frame", () => {
  expect(sinceWords({ since: { serial: "C41-7", earliest: "C41-7", latest: "C41-7" } })).toBe("since C41-7");
  expect(sinceWords({ since: { serial: "C41-7", earliest: "C41-5", latest: "C41-8" } })).toBe(
    "since C41-7, between C41-5 and C41-8",
  );
});

it("says what a change costs", () => {
  const cost = (...given: Parameters<typeof costWords>) => costWords(...given).replaceAll("\u00a0", " ");
  expect(cost({ outside: [], framesToLimit: null }, 0)).toBe("No frame outside a limit");
  expect(cost({ outside: ["A", "B"], framesToLimit: 40 }, 1)).toBe(
    "2 frames outside a limit, 1 held batch, about 40 frames to the limit",
  );
  expect(cost({ outside: ["A"], framesToLimit: 0 }, 0)).toBe("1 frame outside a limit, its level is at the limit");
});
