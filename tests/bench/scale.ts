import { randomBytes } from "node:crypto";
import { mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { sql } from "@/lib/server/db/sql";
import { getOffset } from "@/lib/server/drift/offset-queries";
import { listStreams } from "@/lib/server/drift/list-streams";
import { getStream } from "@/lib/server/drift/queries";
import { readWhyFrames, readWhyStreams } from "@/lib/server/drift/why-frames";
import { getFrameRecord, searchEverything } from "@/lib/server/frames/queries";
import { countBatches, enquireBatch, getBatch, listBatches } from "@/lib/server/gate/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { appendJournal } from "@/lib/server/journal/append-journal";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { listDevices } from "@/lib/server/line/devices";
import { getStationPackage } from "@/lib/server/line/queries";
import { createBatch } from "@/lib/server/batches/commands";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { getJournal } from "@/lib/server/audit/journal-page";
import { getSetupOverview } from "@/lib/server/plant/queries";
import { listGauges } from "@/lib/server/gauges/register";
import { readToday } from "@/lib/server/today/queries";
import { listNewestBatches } from "@/lib/server/batches/queries";
import { countShipments } from "@/lib/server/shipments/queries";
import { enquireFrame, shipFrame } from "@/lib/server/shipments/ship-frame";
import { growPlant } from "../helpers/grow-plant";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import type { BenchLine } from "./run";

/** What every size is compared with, and what is filled in without a number on the command line: 2,000 more at least. */
const SMALL = 6000;
const USUAL = 30_000;
const BATCH = 50;
/** Batches that are still in the plant; older ones have left. */
const HERE = 40;
const REPEATS = 15;
const SECONDS_APART = 5;

type Filled = {
  readonly plant: TestPlant;
  readonly address: string;
  readonly owner: pg.Pool;
  readonly stop: () => Promise<void>;
  readonly random: ReturnType<typeof createSeededGenerator>;
  frames: number;
  looks: number;
};

type Holder = { shellgateConnections?: unknown };
const connectionsOf = new Map<string, unknown>();

/** Lets the commands work on one of two databases; the connections to the other one stay open. */
function workOn({ address }: Pick<Filled, "address">): void {
  const holder = globalThis as Holder;
  const before = process.env["DATABASE_URL"];
  if (before !== undefined) connectionsOf.set(before, holder.shellgateConnections);
  process.env["DATABASE_URL"] = address;
  holder.shellgateConnections = connectionsOf.get(address);
}

const batchKey = (batch: number) => `B-${String(batch).padStart(6, "0")}`;
const serialOf = (frame: number) => `S-${String(frame).padStart(8, "0")}`;

/** A frame as a steady process makes it; one in 400 is too large. */
function inspectionOf({ plant, random }: Filled, frame: number, until: number): RecordInspection {
  const inspection = plant.inspection(serialOf(frame));
  const size = 0.002 * random.normal() + (random.uniform() < 1 / 400 ? 0.06 : 0);
  const readings = inspection.readings.map((value, at) => {
    if (value === null) return null;
    const { kind } = plant.names[at] ?? { kind: "sweep" };
    return kind === "bore" || kind === "width" ? value + size + 0.001 * random.normal() : value + 2 * random.normal();
  });
  return { ...inspection, readings, deviceTime: new Date(until + frame * SECONDS_APART * 1000).toISOString() };
}

async function openBatch({ plant }: Filled, key: string, count: number, first: number): Promise<void> {
  await createBatch(plant.system, {
    key,
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: "P1",
    serials: Array.from({ length: count }, (_, index) => ({ serial: serialOf(first + index) })),
  });
}

/** Moves many frames at once, with an entry that vouches for what became of them. */
async function move({ plant }: Filled, update: pg.QueryConfig): Promise<void> {
  await inSqlTransaction(async (db) => {
    await db.query(update);
    await appendJournal(db, {
      plantId: plant.plantId,
      chain: "gate",
      at: new Date(),
      actor: "system",
      action: "frames.moved",
      subjects: [],
      payload: {},
    });
  });
}

/**
 * Fills the plant up to a number of frames by the commands that a plant uses, so that inspections, journal, streams and
 * counts fit together; then lets all but the newest batches leave.
 */
async function record(filled: Filled, frames: number, total: number): Promise<void> {
  const until = Date.now() - (total + 5000) * SECONDS_APART * 1000;
  while (filled.frames < frames) {
    const first = filled.frames;
    await openBatch(filled, batchKey(first / BATCH), BATCH, first);
    const outcomes = await recordInspections(
      filled.plant.system,
      Array.from({ length: BATCH }, (_, index) => inspectionOf(filled, first + index, until)),
    );
    if (outcomes.some(({ status }) => status !== "recorded")) throw new Error("scale: an inspection was refused");
    filled.frames += BATCH;
    if (filled.frames % 10_000 === 0) process.stderr.write(`scale: ${filled.frames} frames\n`);
  }
  await move(
    filled,
    sql`update frame f set state = 'shipped', shipped_at = f.measured_at from batch b
      where b.plant_id = f.plant_id and b.id = f.batch_id and f.state in ('measured', 'held')
        and b.key < ${batchKey(frames / BATCH - HERE)}`,
  );
  await anchorJournal(filled.plant.plantId);
}

/** Newest frames of a large plant, recorded by the commands as all of a small one are. */
const NEWEST = HERE * BATCH;

/** A plant of so many frames: what is between the first 6,000 and the newest is made by COPY. */
async function fill(filled: Filled, frames: number, total: number): Promise<void> {
  workOn(filled);
  await record(filled, SMALL, total);
  if (frames > SMALL) {
    const { owner, plant } = filled;
    await growPlant(owner, plant.plantId, RING, {
      template: Array.from({ length: SMALL / BATCH - HERE }, (_, batch) => batchKey(batch)),
      first: SMALL / BATCH,
      count: (frames - NEWEST - SMALL) / BATCH,
      batchKey,
      serialOf,
      apartMs: SECONDS_APART * 1000,
    });
    filled.frames = frames - NEWEST;
    await record(filled, frames, total);
  }
  await filled.owner.query("vacuum (analyze)");
}

type Looks = Readonly<Record<string, () => Promise<unknown>>>;

/** Everything that is looked at, for one plant; `leave` lets go what was recorded to look at. */
async function looksAt(filled: Filled): Promise<{ looks: Looks; leave: () => Promise<void> }> {
  workOn(filled);
  const { plant, frames } = filled;
  const viewer = {
    ...(await plant.as("administrator", "auditor", "engineer", "dock", "inspector", "supplier_manager")),
  };
  filled.looks += 1;
  const spare = 10_000_000 * filled.looks;
  const looked = `LOOK-${uuidV7()}`;
  await openBatch(filled, looked, REPEATS * 101, spare);
  let next = spare;
  const recordSome = (count: number) => {
    const some = Array.from({ length: count }, (_, index) => plant.inspection(serialOf(next + index)));
    next += count;
    return recordInspections(plant.system, some);
  };
  const newest = frames - BATCH;
  const batch = batchKey(newest / BATCH);
  const { rows } = await getPool().query<{ id: string }>(sql`
    select id from stream where plant_id = ${plant.plantId} order by points desc, id limit 1`);
  const stream = rows[0]?.id ?? "";
  let ship = newest;
  const looks: Looks = {
    "gate, list of batches": () => Promise.all([listBatches(viewer), countBatches(viewer)]),
    "gate, one batch": () => getBatch(viewer, batch),
    "gate, batch asked by a program": () => enquireBatch(viewer, batch),
    "gate, frame asked by a program": () => enquireFrame(viewer, serialOf(newest + 3)),
    "gate, ship scan": () => shipFrame(viewer, { id: uuidV7(), serial: serialOf(ship++) }),
    "record of a frame": () => getFrameRecord(viewer, serialOf(1234)),
    "search, whole serial": () => searchEverything(viewer, serialOf(1234)),
    "search, beginning": () => searchEverything(viewer, "S-0000"),
    "search, part": () => searchEverything(viewer, "01234"),
    "search, part of many": () => searchEverything(viewer, "000"),
    "search, nothing": () => searchEverything(viewer, "no such thing"),
    today: () => readToday(viewer),
    "drift, list of streams": () => listStreams(viewer),
    "drift, one stream": () => getStream(viewer, stream),
    "drift, offset": () => getOffset(viewer, { line: "L1" }),
    "drift, why of all streams": () => readWhyStreams(viewer),
    "drift, why of one stream": () => readWhyFrames(viewer, stream, "inspector", { frames: 2000 }),
    "setup, overview": () => getSetupOverview(viewer),
    "setup, newest batches": () => listNewestBatches(viewer),
    "setup, gauges": () => listGauges(viewer),
    "setup, devices": () => listDevices(viewer),
    "setup, journal": () => getJournal(viewer),
    "setup, journal searched": () => getJournal(viewer, { text: looked }),
    "setup, journal searched for nothing": () => getJournal(viewer, { text: "no such thing" }),
    "line, package of a station": () => getStationPackage(viewer, plant.stationId),
    "shipments counted": () => countShipments(viewer),
    "recording, one": () => recordSome(1),
    "recording, 100 at once": () => recordSome(100),
  };
  const leave = () =>
    move(
      filled,
      sql`update frame f set state = 'scrapped' from batch b
        where b.plant_id = f.plant_id and b.id = f.batch_id and b.key = ${looked}`,
    );
  return { looks, leave };
}

type Measured = { readonly small: number; readonly large: number };

/** Least time of several looks at both plants by turns, ms: other work on the machine only ever adds, to both alike. */
async function measure(small: Filled, large: Filled): Promise<ReadonlyMap<string, Measured>> {
  const [first, second] = [await looksAt(small), await looksAt(large)];
  const timed = async (filled: Filled, look: (() => Promise<unknown>) | undefined): Promise<number> => {
    workOn(filled);
    const from = performance.now();
    await look?.();
    return performance.now() - from;
  };
  const least = new Map<string, Measured>();
  for (const name of Object.keys(first.looks))
    for (let repeat = 0; repeat < REPEATS; repeat++) {
      const before = least.get(name) ?? { small: Infinity, large: Infinity };
      least.set(name, {
        small: Math.min(before.small, await timed(small, first.looks[name])),
        large: Math.min(before.large, await timed(large, second.looks[name])),
      });
    }
  for (const [filled, { leave }] of [
    [small, first],
    [large, second],
  ] as const) {
    workOn(filled);
    await leave();
  }
  return least;
}

/** What a look may cost at the large size, as a multiple of the small one; a part of a millisecond more counts as none. */
const MOST_GROWTH = 1.5;
const UNFELT_MS = 0.5;
/** These have to stay; the others are told. */
const HAS_TO_STAY = /^(today|gate, list|search|drift, (list|one|why)|line)/;
const RING = "RING-41";

async function openPlant(seed: number): Promise<Filled> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-scale-"));
  const server = await startEmbedded({ folder });
  const addresses = { ownerUrl: server.url(), appUrl: server.appUrl() };
  const owner = new pg.Pool({ connectionString: addresses.ownerUrl, max: 1 });
  // The server stops before the last connection has closed, and must not end the bench before its figures.
  owner.on("error", () => undefined);
  const stop = async (): Promise<void> => {
    workOn({ address: addresses.appUrl });
    await closeConnections();
    await owner.end();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  };
  workOn({ address: addresses.appUrl });
  await prepareDatabase(addresses);
  const plant = await createTestPlant({ frames: 2 });
  await createSettingRing(plant.system, { key: RING, certifiedSizeMm: 41, uncertaintyUm: 0.8 });
  return { plant, address: addresses.appUrl, owner, stop, random: createSeededGenerator(seed), frames: 0, looks: 0 };
}

/** Faults of the journal, and batches whose counts differ from a recount. */
async function faultsOf(filled: Filled) {
  workOn(filled);
  const report = await verifyJournal(filled.plant.plantId);
  const { rows } = await filled.owner.query<{ count: number }>(
    `select count(*)::int as count from batch_tally t join lateral (select count(*)::int as frames,
       count(*) filter (where f.state in ('shipped', 'scrapped', 'returned'))::int as gone
       from frame f where f.plant_id = t.plant_id and f.batch_id = t.batch_id) c on true
     where (c.frames, c.gone) <> (t.frames, t.gone)`,
  );
  return { report, miscounted: rows[0]?.count ?? -1 };
}

/**
 * Pages and commands at many frames against the same at 6,000, in two databases looked at by turns: npm run bench scale 100000.
 */
export async function bench(): Promise<BenchLine[]> {
  const asked = process.argv.map(Number).find((value) => Number.isInteger(value) && value > SMALL) ?? USUAL;
  const frames = Math.max(Math.ceil(asked / BATCH) * BATCH, SMALL + NEWEST);
  Object.assign(process.env, { AUTH_SECRET: randomBytes(32).toString("hex"), LOG_LEVEL: "error" });
  const opened: Filled[] = [];
  const open = async (): Promise<Filled> => {
    const filled = await openPlant(16);
    opened.push(filled);
    return filled;
  };
  try {
    const [small, large] = [await open(), await open()];
    await fill(small, SMALL, SMALL);
    const from = performance.now();
    await fill(large, frames, frames);
    const rate = frames / ((performance.now() - from) / 1000);
    const { rows } = await large.owner.query<{ bytes: string }>("select pg_database_size(current_database()) as bytes");
    await measure(small, large);
    const measured = await measure(small, large);
    const verifiedFrom = performance.now();
    const { report, miscounted } = await faultsOf(large);
    const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });
    for (const { chain, sequence, what } of report.faults.slice(0, 5))
      process.stderr.write(`scale: ${chain} ${sequence}: ${what}\n`);
    return [
      told("frames", frames),
      told("frames filled in a second", rate),
      told("size of the database, MB", Number(rows[0]?.bytes ?? 0) / 2 ** 20),
      told("journal entries", report.entries),
      told("verifying the journal, s", (performance.now() - verifiedFrom) / 1000),
      { name: "faults of the journal", value: report.faults.length, goal: 0 },
      { name: "batches whose counts differ from a recount", value: miscounted, goal: 0 },
      ...[...measured].flatMap(([name, one]): BenchLine[] => [
        told(`${name}, ms at ${SMALL}`, one.small),
        told(`${name}, ms at ${frames}`, one.large),
        {
          name: `${name}, growth`,
          value: one.large / (one.small + UNFELT_MS),
          goal: HAS_TO_STAY.test(name) ? MOST_GROWTH : null,
        },
      ]),
    ];
  } finally {
    for (const one of opened) await one.stop();
  }
}
