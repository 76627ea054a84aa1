import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { refusalWords } from "@/lib/format/baseline-words";
import type { ApprovableBaseline } from "@/lib/quality/alarm/approve-baseline";
import { estimateControlLimits, streamValue } from "@/lib/quality/control-limits";
import type { ApproveBaseline, RollBackBaseline } from "@/lib/schemas/baseline";
import { uuidV7 } from "@/lib/schemas/identifier";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import { actorOf, type PersonViewer, type Viewer } from "../auth/viewer";
import { streamBaselineColumns } from "../db/columns/stream-baseline";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { streamOf } from "../drift/charted-frames";
import { putLimitsInForce } from "../drift/grow-streams";
import { followLine } from "../evidence/case-work";
import { getReferenceData } from "../evidence/reference-data";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { subjectsOf } from "../journal/row-hashes";
import { findWatch } from "./advance-watch";
import { CASES_CHAIN } from "./case-entries";
import {
  automaticBaseline,
  type BaselineGround,
  makeProposal,
  readBaselineGround,
  readBaselineHead,
  readWatchGrounds,
} from "./propose-baseline";
import { readWatchedRows, type WatchedRow } from "./watched-frames";

/** A preview reads thousands of frames. */
const TIMEOUT_MS = 30_000;

const stored = streamBaselineColumns("b", [
  "version",
  "frames",
  "ages",
  "leftOut",
  "outliers",
  "centre",
  "sd",
  "region",
  "started",
]);
type Stored = RowOf<typeof stored>;

/** What is written of a version. */
type NewVersion = Omit<Stored, "version"> & {
  readonly kind: "automatic" | "approved" | "rolled-back";
  readonly ofVersion: number | null;
  readonly caseId: string | null;
  readonly reason: string;
  readonly personId: string | null;
};

/** What was there before the first approval runs by itself and has no reason. */
const BY_ITSELF = "made by itself from the first frames that may be in a baseline";

function madeOf(
  rows: readonly WatchedRow[],
  ages: ReadonlyMap<string, number>,
  made: ApprovableBaseline,
  causes: ReadonlyMap<string, string>,
): Omit<Stored, "version"> {
  const idOf = (frame: number) => rows[frame]?.id ?? "";
  const frames = made.frames.map(idOf);
  const assigned = made.assigned.map(idOf);
  return {
    frames,
    ages: frames.map((id, at) => ages.get(id) ?? at + 1),
    leftOut: {
      failing: made.failing.map(idOf),
      assigned: assigned.map((frame) => ({ frame, cause: causes.get(frame) ?? null })),
    },
    outliers: made.outliers.map(idOf),
    centre: made.centre,
    sd: made.sd,
    region: made.region,
    started: made.started,
  };
}

async function newestVersion(db: pg.ClientBase, plantId: string, { watch, head }: BaselineGround): Promise<number> {
  const { rows } = await db.query<{ version: number }>(sql`
    select coalesce(max(version), 0) as version from stream_baseline
    where plant_id = ${plantId} and watch_id = ${watch.id} and stream = ${head.stream.key}`);
  return rows[0]?.version ?? 0;
}

async function insertVersion(
  db: pg.ClientBase,
  plantId: string,
  { watch, head }: BaselineGround,
  version: number,
  one: NewVersion,
  now: Date,
): Promise<string> {
  const id = uuidV7(now.getTime());
  await db.query(sql`
    insert into stream_baseline (plant_id, id, watch_id, stream, version, kind, of_version, frames, ages, left_out, outliers, centre, sd,
      region, started, after_at, after_id, case_id, reason, created_at, person_id)
    values (${plantId}, ${id}, ${watch.id}, ${head.stream.key}, ${version}, ${one.kind}, ${one.ofVersion}, ${one.frames}::uuid[],
      ${one.ages}::int[], ${JSON.stringify(one.leftOut)}::jsonb, ${one.outliers}::uuid[], ${one.centre}::float8[], ${one.sd},
      ${JSON.stringify(one.region)}::jsonb, ${JSON.stringify(one.started)}::jsonb, ${watch.newestAt}, ${watch.newestId}, ${one.caseId},
      ${one.reason}, ${now}, ${one.personId})`);
  return id;
}

/** Control limits of the chart follow from the frames of the baseline, so that both have one origin. */
async function putChartLimits(
  db: pg.ClientBase,
  plantId: string,
  { head }: BaselineGround,
  frames: readonly WatchedRow[],
  personId: string,
  now: Date,
): Promise<string | null> {
  const stream = streamOf(head.feature);
  const [first, last] = [frames[0], frames.at(-1)];
  const limits = estimateControlLimits(
    stream,
    frames.flatMap(({ features }) => streamValue(stream, features) ?? []),
  );
  if (!limits.ok || first === undefined || last === undefined) return null;
  const approval = { personId, at: now };
  return putLimitsInForce(db, plantId, head.id, limits.value, { from: first.at, to: last.at }, approval, now);
}

/** Locks the watch of a stream and reads what its baselines rest on; refused where somebody was quicker. */
async function lockGround(
  db: pg.ClientBase,
  viewer: PersonViewer,
  { streamId, versionSeen }: Pick<ApproveBaseline, "streamId" | "versionSeen">,
): Promise<{ readonly ground: BaselineGround; readonly newest: number }> {
  const { plantId } = viewer;
  const head = await readBaselineHead(db, plantId, streamId);
  const watch = await findWatch(db, plantId, head, true);
  const grounds = await readWatchGrounds(db, plantId, head, await getReferenceData(plantId));
  const ground = await readBaselineGround(db, plantId, head, watch, grounds);
  const newest = await newestVersion(db, plantId, ground);
  if (newest !== versionSeen)
    throw new AppError(
      "conflict",
      `Somebody else approved version ${newest} of this baseline meanwhile. Nothing was changed; look at it first.`,
    );
  return { ground, newest };
}

/** Writes a version, and before it the one that runs by itself, so that it can be compared and come back. */
async function writeVersion(
  db: pg.ClientBase,
  viewer: PersonViewer,
  ground: BaselineGround,
  newest: number,
  one: NewVersion,
  action: string,
  now: Date,
): Promise<number> {
  const { plantId, personId } = viewer;
  const limitSet = await putChartLimits(
    db,
    plantId,
    ground,
    await readWatchedRows(db, plantId, one.frames),
    personId,
    now,
  );
  const head = await lockChain(db, plantId, CASES_CHAIN);
  const ids: string[] = [];
  let version = newest;
  const automatic = ground.running?.version === undefined ? await automaticBaseline(db, plantId, ground) : null;
  if (automatic !== null) {
    const made = madeOf(automatic.rows, ground.ages, automatic.baseline, new Map());
    const kept = {
      ...made,
      kind: "automatic" as const,
      ofVersion: null,
      caseId: null,
      reason: BY_ITSELF,
      personId: null,
    };
    ids.push(await insertVersion(db, plantId, ground, ++version, kept, now));
  }
  ids.push(await insertVersion(db, plantId, ground, ++version, one, now));
  await appendToLockedChain(db, head, {
    plantId,
    chain: CASES_CHAIN,
    at: now,
    actor: actorOf(viewer),
    action,
    subjects: await subjectsOf(db, plantId, "stream_baseline", ids),
    payload: { stream: ground.head.id, version, frames: one.frames.length, limitSet, reason: one.reason },
  });
  await followLine(db, plantId, ground.watch.lineId);
  return version;
}

export type ApprovedVersion = { readonly version: number; readonly frames: number };

type Signed = {
  readonly db: pg.ClientBase;
  readonly signer: PersonViewer;
  readonly ground: BaselineGround;
};

/** Signs for a new version of a stream's baseline and writes what `make` makes of it, in one transaction. */
async function signVersion(
  viewer: Viewer,
  input: Pick<ApproveBaseline, "streamId" | "versionSeen" | "password">,
  { action, now }: { readonly action: Parameters<typeof writeVersion>[5]; readonly now: Date },
  make: (signed: Signed) => Promise<NewVersion>,
): Promise<ApprovedVersion> {
  assertMay(viewer, "drift.approve-baseline");
  const signer = await assertSigned(viewer, input.password);
  return inSqlTransaction(
    async (db) => {
      const { ground, newest } = await lockGround(db, signer, input);
      const one = await make({ db, signer, ground });
      const version = await writeVersion(db, signer, ground, newest, one, action, now);
      return { version, frames: one.frames.length };
    },
    { timeoutMs: TIMEOUT_MS },
  );
}

/**
 * Approves a baseline: its frames, centre and edges hold for what is measured from now on, and the limits of the chart follow from them.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, invalid-input, refused (an open case that is not the reason, too few frames,
 *   no variation), conflict where somebody else approved one meanwhile, or the frames are others than those that were previewed
 */
export async function approveBaseline(
  viewer: Viewer,
  input: ApproveBaseline,
  now: Date = new Date(),
): Promise<ApprovedVersion> {
  return signVersion(viewer, input, { action: "baseline.approved", now }, async ({ db, signer, ground }) => {
    const made = await makeProposal(db, signer.plantId, ground, input.wish);
    if (!made.ok) throw new AppError("refused", `${refusalWords(made.refusal)} Nothing was changed.`);
    const { rows, baseline, digest } = made.proposal;
    if (digest !== input.previewed)
      throw new AppError(
        "conflict",
        "The frames of this baseline are others than those that were shown: some came late, were withdrawn or got a cause. Nothing was changed; look at the preview again.",
      );
    const causes = new Map(input.wish.causes.map(({ frame, cause }) => [frame, cause]));
    return {
      ...madeOf(rows, ground.ages, baseline, causes),
      kind: "approved",
      ofVersion: null,
      caseId: input.wish.caseId,
      reason: input.grounds,
      personId: signer.personId,
    };
  });
}

/**
 * Puts an earlier version in force again, for what is measured from now on: what has entered it since is left out.
 *
 * @throws AppError as approveBaseline
 */
export async function rollBackBaseline(
  viewer: Viewer,
  input: RollBackBaseline,
  now: Date = new Date(),
): Promise<ApprovedVersion> {
  return signVersion(viewer, input, { action: "baseline.rolled-back", now }, async ({ db, signer, ground }) => {
    const { rows } = await db.query<Stored>(sql`
      select ${stored} from stream_baseline b where b.plant_id = ${signer.plantId} and b.watch_id = ${ground.watch.id}
        and b.stream = ${ground.head.stream.key} and b.version = ${input.version}`);
    const earlier = rows[0];
    if (earlier === undefined)
      throw new AppError("not-found", `There is no version ${input.version} of this baseline. Nothing was changed.`);
    if (earlier.version === ground.running?.version)
      throw new AppError("refused", `Version ${input.version} is in force already. Nothing was changed.`);
    if (ground.open.some(({ id }) => id !== input.caseId))
      throw new AppError("refused", `${refusalWords({ code: "open-case" })} Nothing was changed.`);
    const { version: ofVersion, ...same } = earlier;
    return {
      ...same,
      kind: "rolled-back",
      ofVersion,
      caseId: input.caseId,
      reason: input.grounds,
      personId: signer.personId,
    };
  });
}
