import { expect, it } from "vitest";
import { caseHeadline, caseSentence, costWords, sinceWords, sizeWords } from "@/lib/format/case-words";

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

const say = (text: string) => text.replaceAll("\u00a0", " ");

it("says a case as a sentence, both seats as one where they went one way", () => {
  const given = { kind: "step", change, towards: null } as const;
  const members = [bore("ds.bore.mean"), bore("nds.bore.mean", "also moved")];
  const sentence = (more: Partial<Parameters<typeof caseSentence>[0]>) =>
    say(caseSentence({ ...given, lead: "ds.bore.mean", members, ...more }));
  expect(sentence({})).toBe("both bores are smaller by 8.0 µm");
  expect(sentence({ members: members.slice(0, 1) })).toBe("the DS bore is smaller by 8.0 µm");
  expect(sentence({ members: [bore("ds.bore.mean"), { ...bore("nds.bore.mean"), sign: 1 }] })).toBe(
    "the DS bore is smaller by 8.0 µm",
  );
  const trend = { value: -0.194, unit: "µm", each: "frame" } as const;
  expect(sentence({ kind: "trend", change: trend })).toBe("both bores become smaller by 0.19 µm with each frame");
  const factor = { value: 3.21, unit: null, each: "factor" } as const;
  expect(sentence({ kind: "spread", change: factor })).toBe("both bores scatter 3.2 times as much as before");
  expect(sentence({ kind: "frames" })).toBe("both bores are smaller by 8.0 µm in single frames");
  const moved = { lead: "offset.3", change: { value: 64.9, unit: "µm", each: "change" }, towards: 4 } as const;
  expect(sentence(moved)).toBe("the NDS seat moved 0.065 mm towards 4 o'clock");
  const face = { feature: "nds.face", by: "signal", sign: 1, change } as const;
  expect(sentence({ lead: "nds.face", members: [face] })).toBe("the run-out of the NDS face is smaller by 8.0 µm");
  expect(sentence({ lead: "ds.bore.range", members: [] })).toBe("the spread within the DS bore is smaller by 8.0 µm");
});

it("says a size short", () => {
  expect(say(sizeWords(change))).toBe("−8.0 µm");
  expect(say(sizeWords({ value: 0.1, unit: "µm", each: "frame" }))).toBe("+0.10 µm a frame");
  expect(sizeWords({ value: 2.15, unit: "arcmin", each: "change" })).toBe("+2.2′");
  expect(sizeWords({ value: 3.2, unit: null, each: "factor" })).toBe("3.2 times the spread");
});
