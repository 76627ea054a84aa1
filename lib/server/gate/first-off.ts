import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { latestShiftStart } from "@/lib/format/shift-start";
import { OPEN_STATES } from "@/lib/quality/frame-state";
import type { FirstOffFrame, FirstOffState } from "@/lib/schemas/first-off";
import type { FirstOffRule } from "@/lib/schemas/plan";
import type { ReleaseFirstOff } from "@/lib/schemas/first-off";
import { assertKeptApart } from "../auth/kept-apart";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { eventColumns, notCorrected } from "../db/columns/event";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { stationColumns } from "../db/columns/station";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { recordDecision } from "./commands";

type Db = pg.ClientBase | pg.Pool;
type Asked = {
  readonly why: string;
  readonly since: Date;
  readonly plans: readonly string[];
  /** Keys of the fuller plans by which the first frame is measured; none: by its own plan. */
  readonly fullPlans: readonly string[];
};
const stationNamed = stationColumns("s", ["key", "lineId", "operationId"]);
type StationRow = RowOf<typeof stationNamed>;

async function findStation(db: Db, plantId: string, stationId: string): Promise<StationRow> {
  const { rows } = await db.query<StationRow>(sql`
    select ${stationNamed} from station s where s.plant_id = ${plantId} and s.id = ${stationId}`);
  if (rows[0]) return rows[0];
  throw new AppError("not-found", "This station is not known. Choose the station again.");
}

/** What is done to the machine or the fixture; a remark or a gauge's check starts no new first-off. */
const EVENTS = ["reamer changed", "fixture shimmed", "mould cleaned", "tool", "fixture", "mould"];

const asking = measuringPlanRevisionColumns("r", ["id"]);
const done = eventColumns("event", ["at", "text"]);

/** The newest moment from which a first-off is asked for on the line, by the released plans of its open batches. */
async function findAsked(
  db: Db,
  { plantId, plantZone }: Viewer,
  station: StationRow,
  now: Date,
): Promise<Asked | null> {
  const { rows } = await db.query<RowOf<typeof asking> & { rule: FirstOffRule }>(sql`
    select distinct ${asking}, r.settings -> 'firstOff' as rule
    from measuring_plan_revision r
    join batch b on b.plant_id = r.plant_id and b.plan_id = r.plan_id and b.line_id = ${station.lineId}
    where r.plant_id = ${plantId} and r.state = 'released' and r.settings ? 'firstOff'
      and exists (select 1 from frame f where f.plant_id = b.plant_id and f.batch_id = b.id
        and f.state = any(${OPEN_STATES}::"FrameState"[]))`);
  if (rows.length === 0) return null;
  const plans = rows.map((row) => row.id);
  const fullPlans = rows.flatMap(({ rule }) => rule.plan ?? []);
  const starts = rows.flatMap(({ rule }) => (rule.each === "shift" ? rule.starts : []));
  const shift = starts.length === 0 ? null : latestShiftStart(now, starts, plantZone);
  const events = rows.some(({ rule }) => rule.each === "event")
    ? await db.query<RowOf<typeof done>>(sql`
        select ${done} from event where plant_id = ${plantId} and (line_id = ${station.lineId} or line_id is null)
          and kind = any(${EVENTS}::text[]) and at <= ${now} and ${notCorrected}
        order by at desc, id desc limit 1`)
    : null;
  const event = events?.rows[0] ?? null;
  if (event && (shift === null || event.at > shift))
    return { why: `after: ${event.text}`, since: event.at, plans, fullPlans };
  return shift === null ? null : { why: "start of the shift", since: shift, plans, fullPlans };
}

const candidate = together(
  inspectionColumns("i", { inspectionId: "id", verdict: "verdict", measuredAt: "measuredAt" }),
  frameColumns("f", { frameId: "id", serial: "serial" }),
  batchColumns("b", { batchId: "id", batch: "key" }),
);
type Candidate = RowOf<typeof candidate>;

/**
 * The first-off: the first inspection since then that conforms, else the first of all. One that failed is corrected and the
 * next frame stands for the shift.
 */
async function findFirstOff(
  db: Db,
  plantId: string,
  station: StationRow,
  { since, fullPlans }: Asked,
): Promise<Candidate | null> {
  const { rows } = await db.query<Candidate>(sql`
    select ${candidate}
    from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    where i.plant_id = ${plantId} and i.line_id = ${station.lineId} and i.operation_id = ${station.operationId}
      and i.measured_at >= ${since}
      and (cardinality(${fullPlans}::text[]) = 0 or exists (select 1 from measuring_plan_revision r
        join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
        where r.plant_id = i.plant_id and r.id = i.plan_revision_id and p.key = any(${fullPlans}::text[])))
      and ${notWithdrawn}
    order by i.verdict = 'conforms' desc, i.measured_at, i.id limit 1`);
  return rows[0] ?? null;
}

const released = decisionColumns("d", ["at", "grounds"]);

async function findRelease(db: Db, plantId: string, station: StationRow, since: Date) {
  const { rows } = await db.query<RowOf<typeof released> & { by: string; frame: FirstOffFrame }>(sql`
    select ${released}, ${nameThen("p", "d.at")} as by, d.evidence -> 'frame' as frame
    from decision d join person p on p.plant_id = d.plant_id and p.id = d.person_id
    where d.plant_id = ${plantId} and d.kind = 'first_off_release' and d.at >= ${since}
      and d.evidence ->> 'lineId' = ${station.lineId} and d.evidence ->> 'operationId' = ${station.operationId}
      and not exists (select 1 from inspection_withdrawal w
        where w.plant_id = d.plant_id and w.inspection_id::text = d.evidence -> 'frame' ->> 'inspectionId')
    order by d.at desc, d.id desc limit 1`);
  return rows[0] ?? null;
}

function shownFrame({ inspectionId, serial, batch, verdict, measuredAt }: Candidate): FirstOffFrame {
  return { inspectionId, serial, batch, verdict, measuredAt: measuredAt.toISOString() };
}

/**
 * How a station's line stands with its first-off release.
 *
 * @throws AppError forbidden, not-found
 */
export async function getFirstOffState(
  viewer: Viewer,
  stationId: string,
  now: Date = new Date(),
): Promise<FirstOffState> {
  assertMay(viewer, "line.view");
  const { plantId } = viewer;
  const pool = getPool();
  const station = await findStation(pool, plantId, stationId);
  const asked = await findAsked(pool, viewer, station, now);
  if (asked === null) return { state: "not asked" };
  const since = asked.since.toISOString();
  const [release, first] = await Promise.all([
    findRelease(pool, plantId, station, asked.since),
    findFirstOff(pool, plantId, station, asked),
  ]);
  const { why } = asked;
  if (release)
    return {
      state: "released",
      why,
      since,
      frame: release.frame,
      by: release.by,
      at: release.at.toISOString(),
      grounds: release.grounds,
    };
  return first === null ? { state: "due", why, since } : { state: "waiting", why, since, frame: shownFrame(first) };
}

/**
 * Releases the line after its first-off, signed with the password. The same release sent again changes nothing.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, conflict (another frame is the first-off now, or nothing is asked),
 *   refused (the first-off does not conform, or the signer measured it)
 */
export async function releaseFirstOff(viewer: Viewer, input: ReleaseFirstOff, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "line.release-first-off");
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  await inSqlTransaction(async (db) => {
    const known = await db.query(sql`select 1 from decision where plant_id = ${plantId} and id = ${input.id}`);
    if (known.rows.length > 0) return;
    await db.query(sql`select 1 from station where plant_id = ${plantId} and id = ${input.stationId} for update`);
    const station = await findStation(db, plantId, input.stationId);
    const asked = await findAsked(db, viewer, station, now);
    if (asked === null)
      throw new AppError("conflict", "No first-off release is asked for on this line now. Nothing was changed.");
    if (await findRelease(db, plantId, station, asked.since))
      throw new AppError("conflict", "The first-off of this line is released already. Nothing was changed.");
    const first = await findFirstOff(db, plantId, station, asked);
    if (first === null)
      throw new AppError("refused", "No frame was measured yet since the first-off fell due. Nothing was changed.");
    if (first.inspectionId !== input.inspectionId)
      throw new AppError(
        "conflict",
        `The first-off is frame ${first.serial} now, not the one on your page. Nothing was changed; look again.`,
      );
    if (first.verdict !== "conforms")
      throw new AppError(
        "refused",
        `Frame ${first.serial} is no ground for a release: its verdict is "${first.verdict}". Nothing was changed. Correct the process and measure another frame.`,
      );
    await assertKeptApart(db, signer, [first.inspectionId], { act: "release the line" });
    const evidence = {
      lineId: station.lineId,
      operationId: station.operationId,
      station: station.key,
      why: asked.why,
      since: asked.since.toISOString(),
      frame: shownFrame(first),
    };
    const { id, grounds } = input;
    const draft = {
      id,
      kind: "first_off_release" as const,
      batchId: first.batchId,
      frameIds: [first.frameId],
      grounds,
    };
    const payload = { station: station.key, serial: first.serial };
    await recordDecision(db, signer, { ...draft, evidence, expiresAt: null }, "first-off.released", payload, now);
  });
}
