import { expect, it } from "vitest";
import { causeFacts, topicsOf } from "@/lib/quality/cases/cause-facts";
import type { RankedCause } from "@/lib/quality/cases/case";
import { caseSteps } from "@/lib/quality/cases/case-steps";

const gauge: RankedCause = {
  cause: "gauge",
  subject: "BG-06",
  lnOdds: 0,
  evidence: [
    { code: "moved alike", isFor: true, features: ["ds.bore.mean", "nds.bore.mean"] },
    { code: "shape", isFor: true, kind: "trend" },
    { code: "zero check", isFor: false, place: 12, deviationUm: 0.2 },
  ],
};
const lot: RankedCause = {
  cause: "material lot",
  subject: null,
  lnOdds: -4,
  evidence: [
    { code: "moved alike", isFor: true, features: ["ds.bore.mean"] },
    { code: "does not fit", isFor: false },
  ],
};

it("puts facts under what they are about; one against outweighs those for a cause there", () => {
  expect(topicsOf([gauge, lot])).toEqual(["moved", "shape", "beside"]);
  const [ofGauge, ofLot] = causeFacts([gauge, lot]);
  expect(ofGauge?.isFor).toBe(2);
  expect(ofGauge?.topics.beside.says).toBe("against");
  expect(ofLot?.topics.moved).toMatchObject({ says: "against", evidence: { length: 2 } });
  expect(ofLot?.topics.shape).toEqual({ says: "nothing", evidence: [] });
  expect(ofLot?.isFor).toBe(0);
});

it("makes steps of a case's entries: what was not planned is done as it is noted", () => {
  const entry = (id: string, kind: string, data: Record<string, unknown> = {}, text: string | null = id) => ({
    id,
    kind,
    at: `2026-12-01T10:0${id.length}:00Z`,
    by: "Ilse",
    text,
    data,
  });
  const steps = caseSteps([
    entry("a", "step"),
    entry("bb", "step", { isPlanned: true }),
    entry("ccc", "step", { isPlanned: true }),
    entry("dddd", "ticked", { stepId: "bb" }, "clean"),
    entry("eeeee", "cause"),
  ]);
  expect(steps.map(({ id, done }) => [id, done?.at ?? null, done?.found ?? null])).toEqual([
    ["a", "2026-12-01T10:01:00Z", null],
    ["bb", "2026-12-01T10:04:00Z", "clean"],
    ["ccc", null, null],
  ]);
});
