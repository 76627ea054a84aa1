import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { approveBaseline, rollBackBaseline } from "@/lib/server/cases/baseline-commands";
import { readBaselineDifference, readBaselinePage, type ShownProposal } from "@/lib/server/cases/baseline-queries";
import { chooseTests } from "@/lib/server/cases/choose-tests";
import { assignCaseCause, closeCase } from "@/lib/server/cases/commands";
import { followLineCases } from "@/lib/server/cases/follow-line";
import { sql } from "@/lib/server/db/sql";
import { getStream } from "@/lib/server/drift/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { readBaselineSearch } from "@/app/drift/streams/[id]/baseline/baseline-search";
import { type BaselineWish, rollBackBaselineSchema } from "@/lib/schemas/baseline";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { withDriftingGauge } from "@/lib/simulation/process-faults";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { serialOf, SIMULATED_FROM, simulatedInspections } from "../../helpers/simulated-inspections";

// Signatures have tests of their own.
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: PersonViewer) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let lineId: string;
let streamId: string;
let all: RecordInspection[];

const FRAMES = 330;
/** A new ring: from here on every bore reads 8 µm more, and that is right. */
const STEP_AT = 150;
const NOW = new Date(SIMULATED_FROM + 10 * 3_600_000);
const follow = () => followLineCases(plant.plantId, lineId, { isTold: true });

const wish = (from: number, to: number, own: Partial<BaselineWish> = {}): BaselineWish => ({
  stretch: { from: serialOf(from), to: serialOf(to) },
  caseId: null,
  causes: [],
  ...own,
});

const page = (wished: BaselineWish | null = null) => readBaselinePage(engineer, streamId, wished);

async function proposed(wished: BaselineWish): Promise<ShownProposal> {
  const { wished: answer } = await page(wished);
  if (answer?.ok !== true) throw new Error(JSON.stringify(answer));
  return answer.proposal;
}

async function approve(wished: BaselineWish, own: { versionSeen?: number; previewed?: string } = {}) {
  const { digest } = await proposed(wished);
  const { newestVersion } = await page();
  return approveBaseline(engineer, {
    streamId,
    wish: wished,
    versionSeen: newestVersion,
    previewed: digest,
    grounds: "new ring of the gauge",
    password: "x",
    ...own,
  });
}

const record = async (inspections: readonly RecordInspection[]) => {
  await recordInspections(plant.system, inspections, { now: NOW });
  await follow();
};

const cases = async () =>
  (
    await database.pool.query<{ id: string; number: number; state: string; stands: boolean; over: boolean }>(sql`
      select id, number, state, stands, over_at is not null as over from drift_case where plant_id = ${plant.plantId} order by number`)
  ).rows;

const signals = async () =>
  (
    await database.pool.query(sql`
      select f.serial, s.stream, s.side, s.test from alarm_signal s
      join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
      join frame f on f.plant_id = i.plant_id and f.id = i.frame_id where s.plant_id = ${plant.plantId} order by 1, 2`)
  ).rows;

beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: FRAMES });
  engineer = await plant.as("engineer");
  const { rows } = await database.pool.query<{ id: string }>(
    sql`select id from line where plant_id = ${plant.plantId}`,
  );
  lineId = rows[0]?.id ?? "";
  all = simulatedInspections(plant, FRAMES, {
    seed: 7,
    at: (frame, process, measuring) => ({
      process,
      measuring: frame >= STEP_AT ? withDriftingGauge(measuring, 8) : measuring,
    }),
  });
  await record(all.slice(0, 140).filter((_, at) => at !== 60));
  const found = await database.pool.query<{ id: string }>(sql`
    select id from stream where plant_id = ${plant.plantId} and feature = 'ds.bore.mean'`);
  streamId = found.rows[0]?.id ?? "";
});
afterAll(async () => database.drop());

describe("a baseline before anybody approved one", () => {
  it("is shown as it runs by itself, with the frames that it began with and those that entered", async () => {
    const { current, versions, newestVersion } = await page();
    expect(versions).toEqual([]);
    expect(newestVersion).toBe(0);
    expect(current).toMatchObject({ version: null, frames: 50, first: serialOf(0), isHeld: false });
    expect(current?.known).toBeGreaterThan(50);
  });

  it("is refused of twelve frames, of a frame that nobody knows and of a stretch the wrong way round, in words", async () => {
    const { wished } = await page(wish(0, 11));
    expect(wished).toEqual({ ok: false, refusal: { code: "too-few-frames", frames: 12, needed: 25 } });
    await expect(approve(wish(0, 99), { previewed: "0".repeat(64) })).rejects.toMatchObject({ code: "conflict" });
    const typed = async (stretch: BaselineWish["stretch"]) => (await page({ ...wish(0, 99), stretch })).wished;
    expect(await typed({ from: "T-9999", to: serialOf(99) })).toMatchObject({
      words: expect.stringContaining("T-9999"),
    });
    expect(await typed({ from: serialOf(99), to: serialOf(0) })).toMatchObject({
      words: expect.stringContaining("after"),
    });
    const refused = approveBaseline(engineer, {
      streamId,
      wish: wish(0, 11),
      versionSeen: 0,
      previewed: "0".repeat(64),
      grounds: "soon enough",
      password: "x",
    });
    await expect(refused).rejects.toMatchObject({ code: "refused", message: expect.stringContaining("it takes 25") });
    await expect(readBaselinePage(engineer, "00000000-0000-4000-8000-000000000000", null)).rejects.toMatchObject({
      code: "not-found",
    });
  });

  it("is previewed: which frames, and what each would have signalled", async () => {
    const { frames, preview, first, last } = await proposed(wish(0, 119));
    // frame 60 is not there yet
    expect({ frames, first, last }).toEqual({ frames: 119, first: serialOf(0), last: serialOf(119) });
    expect(preview).toMatchObject({ frames: 139, current: [], proposed: [] });
  });
});

describe("an approved baseline", () => {
  it("holds from the next frame on, the one before is kept, and the chart's limits follow from it", async () => {
    expect(await approve(wish(0, 119))).toEqual({ version: 2, frames: 119 });
    const { versions, current } = await page();
    expect(versions.map(({ version, kind, frames, by }) => [version, kind, frames, by])).toEqual([
      [2, "approved", 119, "Test engineer"],
      [1, "automatic", 50, null],
    ]);
    expect(current).toMatchObject({ version: 2, frames: 119, known: 119, last: serialOf(119) });
    expect((await getStream(engineer, streamId)).limits).toMatchObject({ frames: 119, approvedBy: "Test engineer" });
    await record(all.slice(140, STEP_AT));
    const later = (await page()).current;
    expect(later?.known).toBeGreaterThan(119);
  });

  it("is refused to who saw an older version, and to who is no engineer", async () => {
    await expect(approve(wish(0, 99), { versionSeen: 0 })).rejects.toMatchObject({ code: "conflict" });
    const { digest } = await proposed(wish(0, 99));
    const asked = {
      streamId,
      wish: wish(0, 99),
      versionSeen: 2,
      previewed: digest,
      grounds: "as agreed",
      password: "x",
    };
    await expect(approveBaseline(await plant.as("inspector"), asked)).rejects.toMatchObject({ code: "forbidden" });
    const two = await Promise.allSettled([approveBaseline(engineer, asked), approveBaseline(engineer, asked)]);
    expect(two.map(({ status }) => status).toSorted()).toEqual(["fulfilled", "rejected"]);
    expect((await page()).newestVersion).toBe(3);
  });

  it("is refused while a case of the stream is open, unless that case is the reason", async () => {
    await record(all.slice(STEP_AT, 280));
    const [found] = await cases();
    expect(found).toMatchObject({ state: "open", over: false });
    expect((await page(wish(160, 259))).wished).toEqual({ ok: false, refusal: { code: "open-case" } });
    const roll = { streamId, versionSeen: 3, grounds: "as it was", password: "x", version: 2 };
    await expect(rollBackBaseline(engineer, { ...roll, caseId: null })).rejects.toMatchObject({ code: "refused" });
    const other = { ...wish(160, 259), caseId: "00000000-0000-4000-8000-000000000000" };
    expect((await page(other)).wished).toMatchObject({ words: expect.stringContaining("not an open case") });
    const because = wish(160, 259, { caseId: found?.id ?? "" });
    const { preview } = await proposed(because);
    // the old one signals in the frames behind the step, the new one in those before it
    expect(preview.current?.every((serial) => serial >= serialOf(STEP_AT))).toBe(true);
    expect(preview.proposed.length).toBeGreaterThan(0);
    expect(preview.proposed.every((serial) => serial < serialOf(STEP_AT))).toBe(true);
    expect(await approve(because)).toMatchObject({ version: 4, frames: 100 });
  });

  it("leaves the case on record, still to be closed by a person, and raises none of its own", async () => {
    await record(all.slice(280));
    const before = await cases();
    expect(before.filter(({ stands, state }) => stands && state === "open").length).toBe(before.length);
    expect((await page()).current).toMatchObject({ version: 4, isHeld: false });
    const late = (await signals()).filter(({ serial, stream }) => stream === "ds.bore.mean" && serial > serialOf(279));
    expect(late).toEqual([]);
  });

  it("is the same after a late frame before it, a kill and a replay", async () => {
    const before = { signals: await signals(), current: (await page()).current, cases: await cases() };
    await follow();
    expect({ signals: await signals(), current: (await page()).current, cases: await cases() }).toEqual(before);
    await database.pool.query(sql`delete from alarm_state where plant_id = ${plant.plantId}`);
    await follow();
    expect((await page()).current).toEqual(before.current);
    await record(all.slice(60, 61));
    expect((await page()).current).toEqual(before.current);
  });

  it("goes on without a frame of it that was withdrawn, with the edges that were signed", async () => {
    const before = (await page()).current;
    await withdrawInspection(engineer, { id: all[200]?.id ?? "", reason: "chips on the gauge" }, NOW);
    await follow();
    const { current, versions } = await page();
    expect(current).toMatchObject({ version: 4, frames: 99 });
    expect(current?.known).toBe((before?.known ?? 0) - 1);
    expect(current?.region).toEqual(before?.region);
    expect(versions[0]).toMatchObject({ frames: 100, withdrawn: 1 });
  });

  it("is compared with another version and rolled back, by a reason", async () => {
    const difference = await readBaselineDifference(engineer, streamId, { earlier: 3, later: 4 });
    // 8 µm, known to four standard errors of two means of 100 frames of 1.3 µm
    expect(Math.abs((difference?.moved[0] ?? 0) - 0.008)).toBeLessThan(0.0008);
    expect(await readBaselineDifference(engineer, streamId, { earlier: 3, later: 9 })).toBeNull();
    for (const { id, state } of await cases()) {
      if (state !== "open") continue;
      await assignCaseCause(engineer, { caseId: id, cause: "unknown" });
      await closeCase(engineer, { caseId: id, reason: "the new ring is right", hasNewLevel: false });
    }
    const roll = { streamId, versionSeen: 4, grounds: "the old ring is back", password: "x", caseId: null };
    await expect(rollBackBaseline(engineer, { ...roll, version: 9 })).rejects.toMatchObject({ code: "not-found" });
    await expect(rollBackBaseline(engineer, { ...roll, version: 4 })).rejects.toMatchObject({ code: "refused" });
    expect(await rollBackBaseline(engineer, { ...roll, version: 3 })).toMatchObject({ version: 5 });
    const { current, versions } = await page();
    expect(versions[0]).toMatchObject({
      version: 5,
      kind: "rolled-back",
      ofVersion: 3,
      reason: "the old ring is back",
    });
    // frames 1 to 100 without 61, which came later
    expect(current).toMatchObject({ version: 5, frames: 99, first: serialOf(0) });
  });

  it("has no version beyond what anybody signs, whatever an address or a program asks for", () => {
    expect(readBaselineSearch({ earlier: "99999999999", later: "1" }).compared).toBeNull();
    expect(readBaselineSearch({ earlier: "1", later: "2" }).compared).toEqual({ earlier: 1, later: 2 });
    const asked = { streamId, versionSeen: 0, grounds: "as it was", password: "x", version: 99_999_999_999 };
    expect(rollBackBaselineSchema.safeParse(asked).success).toBe(false);
    expect(readBaselineSearch({ newest: "100", case: "nope" }).wish).toMatchObject({ ok: false });
    expect(readBaselineSearch({ newest: "12,5" }).wish).toMatchObject({ ok: false });
  });

  it("is vouched for by the journal", async () => {
    expect(await verifyJournal(plant.plantId)).toMatchObject({ faults: [] });
  });
});

describe("tests by choice", () => {
  it("are stored as versions, mark frames and make no case, with what they would take of the budget", async () => {
    const before = await cases();
    expect((await page()).tests).toMatchObject({ version: 0, chosen: [], marks: [] });
    const choice = { streamId, versionSeen: 0, reason: "the customer asks for them" };
    expect(await chooseTests(engineer, { ...choice, tests: ["zone-tests"] })).toEqual({ version: 1 });
    await expect(chooseTests(engineer, { ...choice, tests: ["ewma"] })).rejects.toMatchObject({ code: "conflict" });
    const { tests } = await page();
    // the old ring's baseline is in force: all 180 frames with the new ring lie 8 µm, 6 sd, above its centre
    const serials = tests.marks?.[0]?.serials ?? [];
    expect(serials.filter((serial) => serial >= serialOf(STEP_AT + 8)).length).toBeGreaterThan(150);
    expect(tests.versions).toMatchObject([{ version: 1, tests: ["zone-tests"], by: "Test engineer" }]);
    // Champ and Woodall 1987: 91.75
    const { runLength = 0, share = 0 } = tests.facts.find(({ test }) => test === "zone-tests") ?? {};
    expect(Math.abs(runLength - 91.75)).toBeLessThan(0.005);
    expect(share).toBeCloseTo(tests.runLength / runLength, 9);
    await follow();
    expect(await cases()).toEqual(before);
    expect(await chooseTests(engineer, { ...choice, versionSeen: 1, tests: [] })).toEqual({ version: 2 });
    expect((await page()).tests).toMatchObject({ version: 2, chosen: [], marks: [] });
  });

  it("are not offered for the offset, which has a direction", async () => {
    const { rows } = await database.pool.query<{ id: string }>(sql`
      select id from stream where plant_id = ${plant.plantId} and feature = 'ds.tilt'`);
    const offset = rows[0]?.id ?? "";
    expect((await readBaselinePage(engineer, offset, null)).tests.facts).toEqual([]);
    await expect(
      chooseTests(engineer, { streamId: offset, versionSeen: 0, tests: ["ewma"], reason: "slow growth" }),
    ).rejects.toMatchObject({ code: "refused" });
    expect(await verifyJournal(plant.plantId)).toMatchObject({ faults: [] });
  });
});

describe("what shifts ordinarily differ by", () => {
  it("is learnt from twenty shifts on, and the edges of a proposal lie beyond it", async () => {
    const other = await createTestPlant({ frames: 126 });
    const shiftOf = (frame: number) => Math.floor(frame / 6);
    const made = simulatedInspections(other, 126, {
      seed: 11,
      at: (frame, process, measuring) => ({
        process,
        measuring: withDriftingGauge(measuring, shiftOf(frame) % 2 === 0 ? 2 : -2),
      }),
    }).map((one, frame) => ({
      ...one,
      deviceTime: new Date(SIMULATED_FROM + shiftOf(frame) * 43_200_000 + (frame % 6) * 60_000).toISOString(),
    }));
    const { rows } = await database.pool.query<{ id: string }>(
      sql`select id from line where plant_id = ${other.plantId}`,
    );
    const line = rows[0]?.id ?? "";
    const now = new Date(SIMULATED_FROM + 30 * 86_400_000);
    const add = async (part: readonly RecordInspection[]) => {
      await recordInspections(other.system, part, { now });
      await followLineCases(other.plantId, line, { isTold: true });
    };
    const viewer = await other.as("engineer");
    await add(made.slice(0, 114));
    const streams = await database.pool.query<{ id: string }>(sql`
      select id from stream where plant_id = ${other.plantId} and feature = 'ds.bore.mean'`);
    const id = streams.rows[0]?.id ?? "";
    const newest = { stretch: { newest: 100 }, caseId: null, causes: [] };
    expect((await readBaselinePage(viewer, id, newest)).shifts).toBeNull();
    await add(made.slice(114));
    const { shifts, wished } = await readBaselinePage(viewer, id, newest);
    expect(shifts?.shifts).toBe(21);
    // by hand: levels of 4 µm apart in turn, 1.3 µm within a shift of six: (16 - 1.7 / 3) / 2 is 2.78 squared, known to a fifth
    expect(Math.abs((shifts?.sd ?? 0) * 1000 - 2.78)).toBeLessThan(0.6);
    const region = wished?.ok === true ? wished.proposal.region : null;
    expect(region?.upper?.inControl).toBeGreaterThanOrEqual(2 * (shifts?.sd ?? 1));
    expect(region?.lower?.inControl).toBeGreaterThanOrEqual(2 * (shifts?.sd ?? 1));
  });
});
