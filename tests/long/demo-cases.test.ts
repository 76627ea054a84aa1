import { afterAll, beforeAll, expect, it } from "vitest";
import { caseHeadline } from "@/lib/format/case-words";
import { createDemoPlan } from "@/lib/simulation/demo-plan";
import { loadDemoPlant } from "@/lib/server/demo/load-demo-plant";
import { type CaseListItem, listCases } from "@/lib/server/cases/queries";
import type { SystemViewer } from "@/lib/server/auth/viewer";
import { sql } from "@/lib/server/db/sql";
import { createTestDatabase, type TestDatabase } from "../helpers/database";

const UNTIL = Date.parse("2026-11-27T15:00:00Z");

let database: TestDatabase;
let cases: readonly CaseListItem[];

/** The faults of the story: line, operation, likely cause (two where readings alone do not tell them apart). */
const PLANTED = [
  { what: "late reamer", line: "A46", causes: ["reamer worn", "gauge"] },
  { what: "tired inspector", line: "A46", causes: ["inspector"] },
  { what: "paint in the bore", line: "A46", causes: ["paint in the bore"] },
  { what: "oval mould", line: "C41", causes: ["mould"] },
  { what: "drifting gauge", line: "A42", causes: ["gauge", "reamer worn"] },
  { what: "knocked fixture", line: "C41", causes: ["fixture moved"] },
] as const;

const isOf = ({ line, found }: CaseListItem, planted: (typeof PLANTED)[number]): boolean =>
  line === planted.line && planted.causes.some((cause) => cause === found.causes[0]?.cause);

beforeAll(async () => {
  database = await createTestDatabase();
  await loadDemoPlant(
    createDemoPlan(1, UNTIL),
    () => {},
    () => Promise.resolve(),
  );
  const { rows } = await database.pool.query<{ id: string }>(sql`select id from plant limit 1`);
  const viewer: SystemViewer = { kind: "system", plantId: rows[0]?.id ?? "", plantZone: "UTC", name: "test" };
  ({ cases } = await listCases(viewer, { limit: 200 }));
  for (const one of cases)
    console.info(
      `${one.number} ${one.line} ${one.operation} ${one.state} ${caseHeadline(one.found)}, ${one.found.since.serial} to ${one.found.until ?? "now"}: ${one.found.causes
        .slice(0, 3)
        .map(({ cause, lnOdds }) => `${cause} ${(lnOdds ?? -99).toFixed(1)}`)
        .join(", ")}`,
    );
}, 3_600_000);
afterAll(async () => database.drop());

it("has at most ten cases in sixty days", () => {
  expect(cases.length).toBeLessThanOrEqual(10);
});

it.each(PLANTED)("has one case of the $what, with its cause first", (planted) => {
  expect(cases.filter((one) => isOf(one, planted))).toHaveLength(1);
});

it("has at most three that nobody planted", () => {
  expect(cases.filter((one) => !PLANTED.some((planted) => isOf(one, planted))).length).toBeLessThanOrEqual(3);
});

it("has none open that needs nothing: what is over for five days, or was not measured since, is closed", () => {
  const before = new Date(UNTIL - 5 * 86_400_000).toISOString();
  const open = cases.filter(({ state }) => state === "open");
  expect(open.filter(({ stands, overAt, newestAt }) => !stands || (overAt ?? newestAt ?? "") < before)).toEqual([]);
  expect(open.length).toBeGreaterThan(0);
});
