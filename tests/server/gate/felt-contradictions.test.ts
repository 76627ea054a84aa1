import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, parseReadingName } from "@/lib/core/metrology/reading-name";
import { AppError } from "@/lib/errors";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import { resolveDisagreementSchema, type ResolveDisagreement } from "@/lib/schemas/decision";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { resolveDisagreement } from "@/lib/server/gate/resolve-disagreement";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { forgetReferenceData } from "@/lib/server/evidence/reference-data";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createBatch } from "@/lib/server/batches/commands";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, goodValue, testGauges, type TestPlant } from "../../helpers/plant";

// Press-fit 41 (invented): tilt at most 4'; a bar of set A that does not pass is at least some arcminutes out of line,
// and readings of 0 are not (bounds by hand in tests/quality/judge-felt.test.ts).
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const LABELS = [...fullPlan(PRESS_FIT_41).map(formatReadingName), "bar.A", "ds.plug.40.955"];
const NAMES = LABELS.map(parseReadingName).flatMap((name) => (name.ok ? [name.value] : []));
let database: TestDatabase;
let plant: TestPlant;
let planRevisionId: string;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 1 });
  const plan = {
    key: "RB",
    title: "RB",
    revision: "1",
    drawingRevisionId: plant.drawingRevisionId,
    readingNames: LABELS,
    frames: { kind: "all" },
  } as const;
  planRevisionId = (await draftPlan(plant.system, plan)).id;
  await releasePlan(plant.system, planRevisionId);
  const batch = { key: "RB-BATCH", supplier: "SUP", model: "M1", line: "L1", plan: "RB" } as const;
  await createBatch(plant.system, { ...batch, serials: [{ serial: "RB-1" }] });
  const bar = { name: "Second bar", kind: "bar", principle: "bar", resolutionUm: 1 } as const;
  const calibrated = { calibratedAt: "2020-01-01T00:00:00Z", calibratedUntil: "2029-12-31T00:00:00Z" };
  await createGauge(plant.system, { key: "BAR-2", ...bar, ...calibrated });
  forgetReferenceData(plant.plantId);
});

type Felt = {
  readonly bar: "free" | "no";
  readonly plug?: "slides" | "no";
  readonly by?: string;
  readonly size?: number;
  readonly reason?: string;
  readonly more?: Partial<RecordInspection>;
};

const measured = ({ bar, plug = "slides", by, size, reason, more }: Felt): RecordInspection => ({
  id: uuidV7(),
  serial: "RB-1",
  stationId: plant.stationId,
  planRevisionId,
  readings: NAMES.map((name) => {
    if (name.kind === "bar" || name.kind === "plug") return null;
    return name.kind === "bore" && size !== undefined ? size : goodValue(name);
  }),
  gauges: testGauges(NAMES).map((key, place) => (by !== undefined && NAMES[place]?.kind === "bar" ? by : key)),
  attributes: { bars: { "bar.A": { result: bar } }, plugs: { "ds.plug.40.955": plug } },
  deviceTime: new Date().toISOString(),
  ...(reason === undefined ? {} : { reason }),
  ...more,
});
const record = (felt: Felt, viewer: PersonViewer | TestPlant["system"] = plant.system) =>
  recordInspection(viewer, measured(felt));
const decide = (viewer: PersonViewer, change: Partial<ResolveDisagreement>) =>
  resolveDisagreement(viewer, {
    id: uuidV7(),
    serial: "RB-1",
    grounds: "the bar is bent, seen on the surface plate",
    password: "x",
    ...change,
  });
const refusalOf = async (promise: Promise<unknown>): Promise<AppError> => {
  try {
    await promise;
  } catch (error) {
    if (error instanceof AppError) return error;
    throw error;
  }
  throw new Error("it was not refused");
};
const frame = async () =>
  (
    await database.pool.query<{ state: string; verdict: string }>(sql`
      select state::text as state, verdict from frame where plant_id = ${plant.plantId} and serial = 'RB-1'`)
  ).rows[0];

describe("a bar that does not pass against readings that conform", () => {
  it("is decided for the readings: conforms, the record keeps the trial, the journal vouches", async () => {
    expect(await record({ bar: "no" })).toMatchObject({ frameVerdict: "not proven", held: true });
    const engineer = await plant.as("engineer");
    expect((await getFrameRecord(engineer, "RB-1")).contradicting).toMatchObject([{ of: "bar" }]);
    const asked = { id: uuidV7(), sides: [{ of: "bar", counts: "readings" }] } as const;
    const done = { frameState: "measured", verdict: "conforms" };
    expect(await decide(engineer, { ...asked, sides: [...asked.sides] })).toEqual(done);
    expect(await decide(engineer, { ...asked, sides: [...asked.sides] })).toEqual(done);
    expect(await frame()).toEqual({ state: "measured", verdict: "conforms" });
    const shown = await getFrameRecord(engineer, "RB-1");
    expect(shown.judgement?.verdict).toBe("conforms");
    expect(shown.contradicting).toEqual([]);
    expect(shown.inspections[0]).toMatchObject({
      withdrawal: null,
      attributes: { bars: { "bar.A": { result: "no" } } },
    });
    const { rows } = await database.pool.query(sql`
      select kind::text as kind, evidence -> 'sides' -> 0 ->> 'counts' as counts, length(content_hash) as hash
      from decision where plant_id = ${plant.plantId}`);
    expect(rows).toEqual([{ kind: "resolve_disagreement", counts: "readings", hash: 32 }]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    // A later one that contradicts itself opens the question again; one that agrees does not.
    expect(await record({ bar: "free", reason: "again" })).toMatchObject({ frameVerdict: "conforms", held: false });
    expect(await record({ bar: "no", reason: "again" })).toMatchObject({ frameVerdict: "not proven", held: true });
  });

  it("is decided for what was felt: judged by the bounds, and held still", async () => {
    await record({ bar: "no" });
    const engineer = await plant.as("engineer");
    expect(await decide(engineer, { sides: [{ of: "bar", counts: "felt" }] })).toEqual({
      frameState: "held",
      verdict: "does not conform",
    });
    const { judgement } = await getFrameRecord(engineer, "RB-1");
    const tilt = judgement?.characteristics.find(({ name }) => name === "tilt");
    expect(tilt).toMatchObject({ verdict: "does not conform", value: null, code: "felt-breaks-limit" });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("is decided one gauge at a time, by what stands only", async () => {
    await record({ bar: "no", plug: "no" });
    const engineer = await plant.as("engineer");
    const [bar, plug, none] = [
      { of: "bar", counts: "readings" },
      { of: "ds.plug", counts: "readings" },
      { of: "nds.plug", counts: "felt" },
    ] as const;
    expect((await refusalOf(decide(engineer, { sides: [none] }))).userMessage).toContain(
      "do not contradict each other",
    );
    expect(await decide(engineer, { sides: [bar] })).toEqual({ frameState: "held", verdict: "not proven" });
    expect(await decide(engineer, { sides: [plug] })).toEqual({ frameState: "measured", verdict: "conforms" });
    expect((await refusalOf(decide(engineer, { sides: [plug] }))).userMessage).toContain("do not disagree");
  });

  it("is asked for in words where nothing is chosen, or a gauge twice", () => {
    const asked = { id: uuidV7(), serial: "RB-1", grounds: "bent bar", password: "x" };
    expect(resolveDisagreementSchema.safeParse(asked).error?.issues[0]?.message).toContain("which side counts");
    const sides = ["readings", "felt"].map((counts) => ({ of: "bar", counts }));
    expect(resolveDisagreementSchema.safeParse({ ...asked, sides }).success).toBe(false);
  });
});

describe("who decides", () => {
  const sides: ResolveDisagreement["sides"] = [{ of: "bar", counts: "readings" }];

  it("is nobody who keyed it by sign-in, by badge, or on the same device, and nobody without the role", async () => {
    const [signedIn, other, third] = [
      await plant.as("engineer", "inspector"),
      await plant.as("engineer", "inspector"),
      await plant.as("engineer"),
    ];
    await record({ bar: "no", more: { deviceId: "dev-1" } }, signedIn);
    expect(await refusalOf(decide(signedIn, { sides }))).toMatchObject({ code: "refused" });
    await record({ bar: "free", reason: "again", more: { inspectorCode: other.personId } });
    expect(await refusalOf(decide(other, { sides }))).toMatchObject({ code: "refused", details: { tie: "keyed" } });
    const sessionId = uuidV7();
    await database.pool.query(sql`
      with u as (insert into auth_user (id, name, email, updated_at) values (${sessionId}, 'U', ${`${sessionId}@x`}, now()) returning id),
        s as (insert into auth_session (id, token, expires_at, user_id, updated_at)
          select ${sessionId}, ${sessionId}, now() + interval '1 hour', id, now() from u returning id)
      select id from s`);
    await database.pool.query(sql`
      insert into session_device (session_id, plant_id, device_id, proven) values (${sessionId}, ${plant.plantId}, 'dev-1', true)`);
    const there = { ...third, sessionId };
    expect(await refusalOf(decide(there, { sides }))).toMatchObject({ code: "refused", details: { tie: "device" } });
    expect(await refusalOf(decide(await plant.as("inspector"), { sides }))).toMatchObject({ code: "forbidden" });
    expect(await frame()).toEqual({ state: "held", verdict: "not proven" });
    expect(await decide(third, { sides })).toMatchObject({ verdict: "conforms" });
  });
});

describe("measuring again", () => {
  it("with the same bar until it passes settles nothing, with another one it does", async () => {
    await record({ bar: "no" });
    expect(await record({ bar: "free", reason: "again" })).toMatchObject({ frameVerdict: "not proven", held: true });
    const other = { bar: "free", by: "BAR-2", reason: "another bar" } as const;
    expect(await record(other)).toMatchObject({ frameVerdict: "conforms", held: false });
    expect((await getFrameRecord(plant.system, "RB-1")).judgement?.verdict).toBe("conforms");
    expect(await record({ bar: "no", reason: "again" })).toMatchObject({ frameVerdict: "not proven", held: true });
  });
});
