import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { GET as getCase } from "@/app/api/v1/cases/[id]/route";
import { GET as getCases } from "@/app/api/v1/cases/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { setBudgetSchema } from "@/lib/schemas/case";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { withDriftingGauge, withKnockedFixture, withOvalMould } from "@/lib/simulation/process-faults";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { lockWatch } from "@/lib/server/cases/advance-watch";
import { readSchemes } from "@/lib/server/cases/alarm-scheme";
import { assignCaseCause, closeCase } from "@/lib/server/cases/commands";
import { followLineCases } from "@/lib/server/cases/follow-line";
import { advanceJob } from "@/lib/server/cases/jobs";
import { listCases, readCase } from "@/lib/server/cases/queries";
import { readPositions } from "@/lib/server/cases/watched-frames";
import { sql } from "@/lib/server/db/sql";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { addEvent } from "@/lib/server/events/commands";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { listMessages } from "@/lib/server/messages/inbox";
import { tellEvents } from "@/lib/server/messages/tell-events";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { serialOf, SIMULATED_FROM, simulatedInspections } from "../../helpers/simulated-inspections";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const NOW = new Date(SIMULATED_FROM + 24 * 60 * MINUTE);

/** A gauge that shows so much too little in each stretch of frames, the last one left out. */
function shownLess(plant: TestPlant, frames: number, stretches: readonly (readonly [number, number, number])[]) {
  return simulatedInspections(plant, frames, {
    seed: 7,
    at: (frame, process, measuring) => {
      const [, , less] = stretches.find(([from, to]) => frame >= from && frame < to) ?? [0, 0, 0];
      return { process, measuring: less === 0 ? measuring : withDriftingGauge(measuring, -less) };
    },
  });
}

async function record(plant: TestPlant, inspections: readonly RecordInspection[]): Promise<void> {
  const outcomes = await recordInspections(plant.system, inspections, { now: NOW });
  expect(outcomes.filter(({ status }) => status !== "recorded")).toEqual([]);
}

const lineOf = async ({ plantId }: TestPlant): Promise<string> =>
  (await database.pool.query<{ id: string }>(sql`select id from line where plant_id = ${plantId}`)).rows[0]?.id ?? "";

const follow = async (plant: TestPlant) => followLineCases(plant.plantId, await lineOf(plant), { isTold: true });

/** Everything that is kept of the cases of a plant, without keys. */
async function keptOf({ plantId }: TestPlant) {
  const signals = await database.pool.query(sql`
    select f.serial, s.stream, s.side, s.test from alarm_signal s
    join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id where s.plant_id = ${plantId} order by 1, 2`);
  const cases = await database.pool.query(sql`
    select number, state, found - 'events' as found, over_at, since_at, times, stands from drift_case where plant_id = ${plantId}
    order by number`);
  const entries = await database.pool.query(sql`
    select c.number, e.kind from case_entry e join drift_case c on c.plant_id = e.plant_id and c.id = e.case_id
    where e.plant_id = ${plantId} order by e.at, e.id`);
  const told = await database.pool.query(sql`
    select topic from outbox where plant_id = ${plantId} and topic like 'case.%' order by id`);
  const watched = await database.pool.query(sql`select place from alarm_watch where plant_id = ${plantId}`);
  return [signals, cases, entries, told, watched].map(({ rows }) => rows);
}

const topicsOf = async (plant: TestPlant) => ((await keptOf(plant))[3] ?? []).map(({ topic }) => topic);
const onlyCase = async (viewer: PersonViewer) => {
  const { cases } = await listCases(viewer);
  expect(cases).toHaveLength(1);
  const [found] = cases;
  if (found === undefined) throw new Error("no case");
  return found;
};

describe("a job that dies in the middle", () => {
  it("is done by the next one: once, nothing doubled, nothing lost", async () => {
    const frames = 560;
    const dying = await createTestPlant({ frames });
    const whole = await createTestPlant({ frames });
    await record(dying, shownLess(dying, frames, [[530, frames, 8]]));
    await record(whole, shownLess(whole, frames, [[530, frames, 8]]));
    // The connection is killed when the case is written: after the first 500 frames were committed, and with the rest done.
    await database.owner.query(`
      create function killed() returns trigger language plpgsql as $$
      begin perform pg_terminate_backend(pg_backend_pid()); return new; end $$`);
    await database.owner.query(
      "create trigger killed before insert on case_entry for each row execute function killed()",
    );
    await expect(follow(dying)).rejects.toThrow();
    await database.owner.query("drop trigger killed on case_entry");
    expect((await keptOf(dying))[4]).toEqual([{ place: 500 }]);
    expect((await keptOf(dying))[1]).toEqual([]);
    expect(await runDueJobs([advanceJob])).toBeGreaterThan(0);
    await follow(dying);
    await follow(whole);
    const kept = await keptOf(dying);
    expect(kept).toEqual(await keptOf(whole));
    expect(kept[1]).toMatchObject([{ number: 1, state: "open" }]);
    expect(kept[3]).toEqual([{ topic: "case.opened" }]);
    expect(await verifyJournal(dying.plantId)).toMatchObject({ faults: [] });
  });
});

describe("a case that was closed", () => {
  let plant: TestPlant;
  let engineer: PersonViewer;
  let all: RecordInspection[];
  const [STEP, OVER, AGAIN] = [80, 105, 150];
  const LATE = 95;
  beforeAll(async () => {
    plant = await createTestPlant({ frames: 200 });
    engineer = await plant.as("engineer");
    all = shownLess(plant, 200, [
      [STEP, OVER, 8],
      [AGAIN, 180, 8],
    ]);
    await record(
      plant,
      all.filter((_, frame) => frame < 140 && frame !== LATE),
    );
    await follow(plant);
    const { id } = await onlyCase(engineer);
    await assignCaseCause(engineer, { caseId: id, cause: "gauge" });
    await closeCase(
      engineer,
      { caseId: id, reason: "zero set", hasNewLevel: false },
      new Date(SIMULATED_FROM + 140 * MINUTE),
    );
    await follow(plant);
  });

  it("stays as it was closed when a reading of its time comes late, and notes it at most once", async () => {
    const before = await onlyCase(engineer);
    await record(plant, all.slice(LATE, LATE + 1));
    await follow(plant);
    await follow(plant);
    const after = await onlyCase(engineer);
    expect(after).toMatchObject({ state: "closed", cause: "gauge", closedAt: before.closedAt });
    expect(after.found).toEqual(before.found);
    const { entries } = await readCase(engineer, after.id);
    expect(entries.map(({ kind }) => kind).filter((kind) => kind === "late").length).toBeLessThanOrEqual(1);
    expect(await topicsOf(plant)).toEqual(["case.opened"]);
  });

  it("stays so, too, when an inspection that made it is withdrawn", async () => {
    const before = await onlyCase(engineer);
    const first = all[STEP]?.id ?? "";
    await withdrawInspection(engineer, { id: first, reason: "chips on the gauge" }, NOW);
    await follow(plant);
    expect(await onlyCase(engineer)).toMatchObject({ state: "closed", closedAt: before.closedAt });
  });

  it("comes back with the same change, on one record, and those who look after it are told", async () => {
    await record(plant, all.slice(140));
    await follow(plant);
    await follow(plant);
    const back = await onlyCase(engineer);
    expect(back).toMatchObject({ number: 1, state: "open", closedAt: null, times: 2 });
    expect(Math.abs(Number(back.found.since.serial.slice(2)) - 1 - AGAIN)).toBeLessThanOrEqual(3);
    expect(back.found.earlier).toHaveLength(1);
    const { entries } = await readCase(engineer, back.id);
    expect(entries.map(({ kind }) => kind).filter((kind) => kind === "back")).toEqual(["back"]);
    expect(await topicsOf(plant)).toEqual(["case.opened", "case.back"]);
    await tellEvents(plant.plantId);
    const { open } = await listMessages(engineer);
    expect(open.map(({ kind, title }) => [kind, title])).toContainEqual(["case.back", "Case 1 came back on Line 1"]);
    expect(await verifyJournal(plant.plantId)).toMatchObject({ faults: [] });
  });
});

describe("a trend towards a limit", () => {
  it("is told of once, before the usual change of the tool", async () => {
    const plant = await createTestPlant({ frames: 160 });
    const all = simulatedInspections(plant, 160, {
      seed: 9,
      at: (frame, process, measuring) => ({
        process,
        measuring: frame < 100 ? measuring : withDriftingGauge(measuring, -0.25 * (frame - 100)),
      }),
    });
    await record(plant, all.slice(0, 145));
    await follow(plant);
    const engineer = await plant.as("engineer");
    const found = await onlyCase(engineer);
    expect(found.found.kind).toBe("trend");
    await record(plant, all.slice(145));
    await follow(plant);
    expect((await topicsOf(plant)).filter((topic) => topic === "case.forecast")).toEqual(["case.forecast"]);
    await tellEvents(plant.plantId);
    const { open } = await listMessages(engineer);
    expect(open).toContainEqual(
      expect.objectContaining({ kind: "case.forecast", title: "Change the tool of Line 1 earlier" }),
    );
  });
});

describe("a plant of many frames", () => {
  it("begins to watch with its newest 5,000", async () => {
    const plant = await createTestPlant({ frames: 1 });
    const [only] = simulatedInspections(plant, 1, { seed: 3 });
    await record(plant, only === undefined ? [] : [only]);
    // Rows of one frame, a minute apart: only their order is looked at.
    await database.owner.query("alter table inspection disable trigger all");
    const columns = await database.owner.query<{ names: string }>(`
      select string_agg(quote_ident(column_name), ', ') as names from information_schema.columns
      where table_name = 'inspection' and table_schema = 'public' and column_name not in ('id', 'measured_at', 'frame_id')`);
    const names = columns.rows[0]?.names ?? "";
    await database.owner.query(
      `insert into inspection (id, measured_at, frame_id, ${names})
       select gen_random_uuid(), measured_at + n * interval '1 minute', gen_random_uuid(), ${names}
       from inspection, generate_series(1, 5059) n where plant_id = $1`,
      [plant.plantId],
    );
    await database.owner.query("alter table inspection enable trigger all");
    const { rows } = await database.pool.query<{ lineId: string; operationId: string; drawingId: string }>(sql`
      select distinct line_id as "lineId", operation_id as "operationId", drawing_id as "drawingId" from stream
      where plant_id = ${plant.plantId}`);
    const [group] = rows;
    if (group === undefined) throw new Error("no stream");
    const until = new Date("2200-01-01T00:00:00Z");
    const watched = await inSqlTransaction(async (db) => {
      const { beganAt: at, beganId: id } = await lockWatch(db, plant.plantId, group, until);
      return readPositions(db, plant.plantId, group, { after: { at, id }, until });
    });
    expect(watched).toHaveLength(5000);
    expect(watched.at(-1)?.at).toEqual(new Date(SIMULATED_FROM + 5059 * MINUTE));
  });
});

describe("cases over HTTP", () => {
  let plant: TestPlant;
  let reader: Record<string, string>;
  let other: Record<string, string>;
  beforeAll(async () => {
    plant = await createTestPlant({ frames: 190 });
    // One frame far off by itself, a knocked fixture, an oval mould: with quiet frames between, each a case of its own.
    const faulty = simulatedInspections(plant, 190, {
      seed: 7,
      at: (frame, process, measuring) => ({
        process:
          frame >= 100 && frame < 120
            ? withKnockedFixture(process)
            : frame >= 155 && frame < 175
              ? withOvalMould(process)
              : process,
        measuring: frame === 60 ? withDriftingGauge(measuring, -60) : measuring,
      }),
    });
    await record(plant, faulty);
    await follow(plant);
    const administrator = await plant.as("administrator");
    const [first] = (await listCases(plant.system, { before: 2 })).cases;
    const engineer = await plant.as("engineer");
    await assignCaseCause(engineer, { caseId: first?.id ?? "", cause: "unknown" });
    await closeCase(engineer, { caseId: first?.id ?? "", reason: "a chip on the gauge", hasNewLevel: false });
    const bearer = async (scope: "results:read" | "readings:write") => {
      const { token } = await createToken(administrator, { name: scope, scopes: [scope] });
      return { authorization: `Bearer ${token}` };
    };
    [reader, other] = [await bearer("results:read"), await bearer("readings:write")];
  });

  const ask = async (query: string, headers = reader) => {
    const answer = await getCases(new Request(`http://localhost:3000/api/v1/cases${query}`, { headers }), {
      params: Promise.resolve({}),
    });
    return {
      status: answer.status,
      body: (await answer.json()) as { cases: { number: number; id: string }[]; next: number | null },
    };
  };
  const askOne = async (id: string, headers = reader) => {
    const answer = await getCase(new Request(`http://localhost:3000/api/v1/cases/${id}`, { headers }), {
      params: Promise.resolve({ id }),
    });
    return { status: answer.status, body: (await answer.json()) as Record<string, unknown> };
  };
  const numbers = async (query: string) => (await ask(query)).body.cases.map(({ number }) => number);

  it("are listed, the newest first, by state, line and start", async () => {
    expect(await numbers("")).toEqual([3, 2, 1]);
    expect(await numbers("?open=true")).toEqual([3, 2]);
    expect(await numbers("?open=false")).toEqual([1]);
    expect(await numbers("?line=L1&open=true")).toEqual([3, 2]);
    expect(await numbers("?line=L2")).toEqual([]);
    const since = new Date(SIMULATED_FROM + 90 * MINUTE).toISOString();
    expect(await numbers(`?since=${encodeURIComponent(since)}`)).toEqual([3, 2]);
  });

  it("come in pages that leave none out and show none twice", async () => {
    const seen: number[] = [];
    let query = "?limit=1";
    for (let page = 0; page < 5; page += 1) {
      const { body } = await ask(query);
      seen.push(...body.cases.map(({ number }) => number));
      if (body.next === null) break;
      query = `?limit=1&before=${body.next}`;
    }
    expect(seen).toEqual([3, 2, 1]);
  });

  it("are given one by one, whole", async () => {
    const id = (await ask("?open=false")).body.cases[0]?.id ?? "";
    const { status, body } = await askOne(id);
    expect(status).toBe(200);
    expect(body).toMatchObject({ number: 1, state: "closed", cause: "unknown", line: "L1", stands: true });
    expect(body["found"]).toMatchObject({ kind: "frames", since: { serial: serialOf(60) }, outside: [serialOf(60)] });
    expect((body["entries"] as { kind: string }[]).map(({ kind }) => kind)).toEqual(["opened", "cause", "closed"]);
  });

  it("are refused in words: unknown, no key, bad filters, another scope", async () => {
    expect(await askOne(uuidV7())).toMatchObject({ status: 404, body: { code: "not-found" } });
    expect((await askOne("case-1")).status).toBe(400);
    for (const query of ["?open=maybe", "?limit=0", "?limit=1000", "?before=x", "?since=yesterday", "?lines=L1"])
      expect([query, (await ask(query)).status]).toEqual([query, 400]);
    expect((await ask("", other)).status).toBe(403);
    const id = (await ask("")).body.cases[0]?.id ?? "";
    expect((await askOne(id, other)).status).toBe(403);
  });
});

describe("bad and odd input", () => {
  it("a budget of nothing is refused in words", () => {
    for (const budget of [0, "0", "0.0"]) {
      const parsed = setBudgetSchema.safeParse({ budget });
      expect(parsed.error?.issues[0]?.message).toMatch(/^must be at least 0\.05: /);
    }
  });

  it("a dozen frames make no baseline, and one of them outside is a case all the same", async () => {
    const plant = await createTestPlant({ frames: 12 });
    await record(plant, shownLess(plant, 12, [[7, 8, 60]]));
    await follow(plant);
    const found = await onlyCase(await plant.as("engineer"));
    expect(found.found).toMatchObject({ kind: "frames", since: { serial: serialOf(7) }, outside: [serialOf(7)] });
  });

  it("values that are all equal open no case, and a new level of them opens one", async () => {
    const plant = await createTestPlant({ frames: 120 });
    const measuredAt = (frame: number) => ({ deviceTime: new Date(SIMULATED_FROM + frame * MINUTE).toISOString() });
    const equal = Array.from({ length: 80 }, (_, frame) => ({
      ...plant.inspection(serialOf(frame)),
      ...measuredAt(frame),
    }));
    await record(plant, equal);
    await follow(plant);
    const engineer = await plant.as("engineer");
    expect((await listCases(engineer)).cases).toEqual([]);
    const moved = Array.from({ length: 40 }, (_, after) => {
      const good = plant.inspection(serialOf(80 + after));
      const readings = good.readings.map((value, place) =>
        value !== null && plant.names[place]?.kind === "bore" ? value + 0.01 : value,
      );
      return { ...good, readings, ...measuredAt(80 + after) };
    });
    await record(plant, moved);
    await follow(plant);
    const { cases } = await listCases(engineer);
    expect(cases).toHaveLength(1);
    expect(Number(cases[0]?.found.since.serial.slice(2)) - 1).toBe(80);
  });

  it("a gauge of 10 µm is quiet while nothing changes, and says a change of three steps", async () => {
    const plant = await createTestPlant({ frames: 160 });
    const coarse = shownLess(plant, 160, [[130, 160, 30]]).map((one) => ({
      ...one,
      readings: one.readings.map((value, place) =>
        value !== null && plant.names[place]?.kind === "bore" ? Math.round(value * 100) / 100 : value,
      ),
    }));
    await record(plant, coarse.slice(0, 130));
    await follow(plant);
    const engineer = await plant.as("engineer");
    expect((await listCases(engineer)).cases).toEqual([]);
    await record(plant, coarse.slice(130));
    await follow(plant);
    const { cases } = await listCases(engineer);
    expect(cases).toHaveLength(1);
    expect(Math.abs(Number(cases[0]?.found.since.serial.slice(2)) - 1 - 130)).toBeLessThanOrEqual(2);
  });

  it("a stream of two frames a month is tested at the shortest run length", async () => {
    const plant = await createTestPlant({ frames: 60 });
    const rare = simulatedInspections(plant, 60, { seed: 5 }).map((one, frame) => ({
      ...one,
      deviceTime: new Date(SIMULATED_FROM - (60 - frame) * 15 * 24 * 60 * MINUTE).toISOString(),
    }));
    await record(plant, rare);
    await follow(plant);
    const [scheme] = await readSchemes(database.pool, plant.plantId);
    // The design of signals, 12: not under 370.
    expect(new Set(scheme?.streams.map(({ runLength }) => runLength))).toEqual(new Set([370]));
    expect((await listCases(await plant.as("engineer"))).cases).toEqual([]);
  });

  it("the budget is spread anew as a new line gets going, not by its first frame for ever", async () => {
    const plant = await createTestPlant({ frames: 130 });
    // Thirteen frames a day, by one look a day.
    const all = simulatedInspections(plant, 130, { seed: 5 }).map((one, frame) => ({
      ...one,
      deviceTime: new Date(SIMULATED_FROM - (10 - Math.floor(frame / 13)) * DAY + (frame % 13) * MINUTE).toISOString(),
    }));
    for (let day = 0; day < 10; day += 1) {
      await record(plant, all.slice(day * 13, day * 13 + 13));
      await follow(plant);
    }
    const [newest, ...before] = await readSchemes(database.pool, plant.plantId);
    expect(before.map(({ reason }) => reason)).toEqual([...before.slice(1).map(() => "frames"), "first"]);
    // 130 frames in nine days and a little are about 100 a week; a version is made where that has doubled since the one before.
    const [one] = newest?.streams ?? [];
    expect(one?.frames).toBeGreaterThan(50);
    expect(one?.frames).toBeLessThan(105);
    // Equal streams: A = frames x streams / budget (the design of signals, 1).
    expect(one?.runLength).toBeCloseTo((one?.frames ?? 0) * (newest?.streams.length ?? 0), 6);
    await follow(plant);
    expect(await readSchemes(database.pool, plant.plantId)).toHaveLength(before.length + 1);
  });

  it("a history that arrives behind the newest frame is tested as if it had come at once", async () => {
    const made = await Promise.all([createTestPlant({ frames: 130 }), createTestPlant({ frames: 130 })]);
    const runLengths: number[][] = [];
    for (const [place, plant] of made.entries()) {
      const all = shownLess(plant, 130, [[100, 130, 8]]);
      if (place === 1) {
        await record(plant, all.slice(129));
        await follow(plant);
      }
      await record(plant, place === 1 ? all.slice(0, 129) : all);
      await follow(plant);
      const [newest] = await readSchemes(database.pool, plant.plantId);
      runLengths.push((newest?.streams ?? []).map(({ runLength }) => runLength));
    }
    expect(runLengths[1]).toEqual(runLengths[0]);
    const [whole, parts] = await Promise.all(made.map(keptOf));
    expect(parts?.slice(0, 2)).toEqual(whole?.slice(0, 2));
  });

  it("an event between two frames of one second lies where the change began", async () => {
    const plant = await createTestPlant({ frames: 130 });
    const all = shownLess(plant, 130, [[100, 130, 8]]).map((one, frame) =>
      frame === 100 ? { ...one, deviceTime: new Date(SIMULATED_FROM + 99 * MINUTE + 900).toISOString() } : one,
    );
    await addEvent(await plant.as("inspector"), {
      id: uuidV7(),
      kind: "gauge checked",
      at: new Date(SIMULATED_FROM + 99 * MINUTE + 450).toISOString(),
      text: "Gauge dropped and set again",
      subject: "TB-1",
    });
    await record(plant, all);
    await follow(plant);
    const found = await onlyCase(await plant.as("engineer"));
    expect(found.found.since.serial).toBe(serialOf(100));
    expect(found.found.events.map(({ text }) => text)).toEqual(["Gauge dropped and set again"]);
  });
});
