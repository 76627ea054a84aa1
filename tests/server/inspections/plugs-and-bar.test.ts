import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST as postInspection } from "@/app/api/v1/inspections/route";
import { POST as postGeometry } from "@/app/api/v1/geometry/route";
import { fullPlan, plugsAndBarPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, parseReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { getPool } from "@/lib/server/db/client";
import { readBatchEvidence } from "@/lib/server/gate/read-batch-evidence";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { forgetReferenceData } from "@/lib/server/evidence/reference-data";
import { createBatch } from "@/lib/server/batches/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { testGauges, createTestPlant, goodValue, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

// Feel and bars: common practice, no source; the bounds by hand in tests/quality/judge-felt.test.ts.

type Attributes = NonNullable<RecordInspection["attributes"]>;

let database: TestDatabase;
let plant: TestPlant;
let token: string;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 4 });
  const administrator = await plant.as("administrator");
  token = (await createToken(administrator, { name: "felt", scopes: ["results:read", "readings:write"] })).token;
});

/** A released plan with a batch of frames that asks for it; answers go by its readings. */
async function planOf(key: string, readingNames: readonly string[], frames: number) {
  const revision = await draftPlan(plant.system, {
    key,
    title: key,
    revision: "1",
    drawingRevisionId: plant.drawingRevisionId,
    readingNames: [...readingNames],
    frames: { kind: "all" },
  });
  await releasePlan(plant.system, revision.id);
  const serials = Array.from({ length: frames }, (_, place) => ({ serial: `${key}-${place + 1}` }));
  const batch = await createBatch(plant.system, {
    key: `${key}-BATCH`,
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: key,
    serials,
  });
  forgetReferenceData(plant.plantId);
  return { planRevisionId: revision.id, batchId: batch.id, warnings: revision.warnings };
}

const namesOf = (labels: readonly string[]) =>
  labels.map(parseReadingName).flatMap((name) => (name.ok ? [name.value] : []));

const input = (
  serial: string,
  planRevisionId: string,
  labels: readonly string[],
  attributes?: Attributes,
): RecordInspection => ({
  id: uuidV7(),
  serial,
  stationId: plant.stationId,
  planRevisionId,
  readings: labels.map(() => null),
  gauges: testGauges(namesOf(labels)),
  deviceTime: new Date().toISOString(),
  ...(attributes === undefined ? {} : { attributes }),
});

async function record(...inspections: RecordInspection[]) {
  const outcomes = await recordInspections(plant.system, inspections);
  return outcomes.map((one) => {
    if (one.status === "refused") throw new Error(JSON.stringify(one));
    return one;
  });
}

const answerOf = async (serial: string) => (await shipFrame(await plant.as("dock"), { serial, id: uuidV7() })).answer;

const PLUGS = plugsAndBarPlan(PRESS_FIT_41).map(formatReadingName);
const SEATS = ["ds", "nds"] as const;
const trials = (change: Attributes["plugs"] = {}, bars: Attributes["bars"] = {}): Attributes => ({
  plugs: {
    ...Object.fromEntries(
      SEATS.flatMap((seat) => [
        [`${seat}.plug.40.947`, "slides"] as const,
        [`${seat}.plug.40.955`, "hand"] as const,
        [`${seat}.plug.40.997@across`, "no"] as const,
        [`${seat}.plug.41.005@across`, "no"] as const,
      ]),
    ),
    ...change,
  },
  bars: { "bar.A": { result: "free" }, "bar.B": { result: "free" }, ...bars },
});

describe("a plan of plugs and bars alone", () => {
  it("is released, gives a verdict from its bounds, and ships only what it proves", async () => {
    const { planRevisionId, batchId, warnings } = await planOf("PB", PLUGS, 6);
    expect(warnings).toEqual([]);
    const of = (place: number, attributes?: Attributes) => input(`PB-${place}`, planRevisionId, PLUGS, attributes);
    const outcomes = await record(
      of(1, trials()),
      of(2, trials({ "ds.plug.40.947": "no", "ds.plug.40.955": "no" })),
      of(3, trials({ "nds.plug.40.997@across": "slides" })),
      of(4, trials({}, { "bar.A": { result: "no" }, "bar.B": { result: "no" } })),
      of(5),
      of(6, trials({}, { "bar.A": { result: "stiff", clockDeg: 60 }, "bar.B": { result: "no" } })),
    );
    expect(outcomes.map(({ verdict, held }) => [verdict, held])).toEqual([
      ["conforms", false],
      ["does not conform", true],
      ["not proven", true],
      ["does not conform", true],
      ["not measured", true],
      ["not proven", true],
    ]);
    expect(outcomes[1]?.reasons[0]?.reason).toContain("too small");
    const held = (await readBatchEvidence(getPool(), plant.plantId, batchId))?.decision;
    expect(held?.decision).toBe("hold");
    expect(held?.reasons.map(({ text }) => text).join(" ")).toMatch(
      /Tilt of the DS seat does not conform.*bar A will not pass/,
    );
    const shown = await getFrameRecord(plant.system, "PB-1");
    expect(shown.judgement?.characteristics.find(({ name }) => name === "bore")).toMatchObject({
      verdict: "conforms",
      value: null,
      bounds: { most: 40.997 },
    });
  });

  it("is taken over HTTP, and a trial that is none is refused in words", async () => {
    const { planRevisionId } = await planOf("PH", PLUGS, 1);
    const post = (body: unknown) =>
      postInspection(
        new Request("http://localhost/api/v1/inspections", {
          method: "POST",
          headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
          body: JSON.stringify(body),
        }),
        { params: Promise.resolve({}) } as never,
      );
    const wrong = await post(input("PH-1", planRevisionId, PLUGS, { plugs: { "ds.plug.large": "no" } }));
    expect(wrong.status).toBe(400);
    expect(JSON.stringify(await wrong.json())).toContain("ds.plug.large");
    const good = await post(input("PH-1", planRevisionId, PLUGS, trials()));
    expect(good.status).toBeLessThan(300);
    expect(await good.json()).toMatchObject({ verdict: "conforms", held: false });
  });

  it("is answered by the geometry route without a reading", async () => {
    const ask = async (body: unknown) => {
      const response = await postGeometry(
        new Request("http://localhost/api/v1/geometry", {
          method: "POST",
          headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
          body: JSON.stringify(body),
        }),
        { params: Promise.resolve({}) } as never,
      );
      return { status: response.status, body: await response.json() };
    };
    const { plugs, bars } = trials();
    expect((await ask({ drawing: "press-fit-41", plugs, bars })).body).toMatchObject({
      verdict: "conforms",
      holds: false,
    });
    const rejected = await ask({ drawing: "press-fit-41", plugs, bar: { result: "no" } });
    expect(rejected.body).toMatchObject({ verdict: "does not conform", holds: true });
    const nothing = await ask({ drawing: "press-fit-41" });
    expect(nothing.status).toBe(400);
    expect((await ask({ drawing: "press-fit-41", bars: { "ds.plug.40.95": { result: "no" } } })).status).toBe(400);
  });
});

describe("readings that conform, and a bar that does not pass", () => {
  it("do not ship, whatever is measured again, until somebody decides", async () => {
    const names = [...fullPlan(PRESS_FIT_41).map(formatReadingName), "bar.A"];
    const { planRevisionId } = await planOf("RB", names, 2);
    const readings = [...fullPlan(PRESS_FIT_41).map(goodValue), null];
    const of = (serial: string, result: "free" | "no", reason?: string): RecordInspection => ({
      ...input(serial, planRevisionId, names, { bars: { "bar.A": { result } } }),
      readings,
      ...(reason === undefined ? {} : { reason }),
    });
    const [first, good] = await record(of("RB-1", "no"), of("RB-2", "free"));
    expect(first).toMatchObject({ verdict: "not proven", held: true });
    expect(good).toMatchObject({ verdict: "conforms", held: false });
    expect(first?.reasons.map(({ code, name }) => [code, name])).toEqual([
      ["felt-contradicts", "tilt"],
      ["felt-contradicts", "tilt"],
    ]);
    const [again] = await record(of("RB-1", "free", "tried again"));
    expect(again).toMatchObject({ frameVerdict: "not proven", held: true });
    expect(await answerOf("RB-1")).toBe("refused");
  });
});
