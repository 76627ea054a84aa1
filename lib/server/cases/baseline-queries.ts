import "server-only";
import type pg from "pg";
import { FEATURE_NAMES, type FeatureName } from "@/lib/core/metrology/features";
import { AppError } from "@/lib/errors";
import type { AlarmRegion } from "@/lib/quality/alarm/alarm-region";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { type ApprovalRefusal, type BaselineDifference, compareBaselines } from "@/lib/quality/alarm/approve-baseline";
import type { AlarmState } from "@/lib/core/control/alarm/stream-alarm";
import type { ShiftSpread } from "@/lib/quality/alarm/shift-spread";
import { sampleMean, sampleSd } from "@/lib/core/numerics/descriptive-statistics";
import type { BaselineWish } from "@/lib/schemas/baseline";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { driftCaseColumns } from "../db/columns/drift-case";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { streamBaselineColumns } from "../db/columns/stream-baseline";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { streamOf } from "../drift/charted-frames";
import { getReferenceData } from "../evidence/reference-data";
import { findWatch } from "./advance-watch";
import { readStreamTests, type StreamTests } from "./choose-tests";
import {
  automaticBaseline,
  type BaselineGround,
  makeProposal,
  type OpenCase,
  previewProposal,
  readBaselineGround,
  readBaselineHead,
  readWatchGrounds,
} from "./propose-baseline";
import { readWatchedRows, type WatchedRow } from "./watched-frames";

const FEATURE_PLACE = new Map(FEATURE_NAMES.map((name, place) => [name, place]));

/** Versions that a page lists, the newest. */
const VERSIONS_SHOWN = 50;

const listed = together(
  streamBaselineColumns("b", [
    "version",
    "kind",
    "ofVersion",
    "frames",
    "outliers",
    "leftOut",
    "centre",
    "sd",
    "region",
    "reason",
    "createdAt",
  ]),
  orNull(driftCaseColumns("c", { caseNumber: "number" })),
  orNull(personColumns("p", { person: "name" })),
);
type VersionRow = RowOf<typeof listed> & {
  readonly by: string | null;
  readonly first: string | null;
  readonly last: string | null;
  readonly withdrawn: number;
};

/** A version of a baseline as it is listed. Lengths in the stream's unit. */
export type BaselineVersion = {
  readonly version: number;
  readonly kind: "automatic" | "approved" | "rolled-back";
  readonly ofVersion: number | null;
  readonly frames: number;
  /** Serials of its first and last frame. */
  readonly first: string | null;
  readonly last: string | null;
  /** Frames of it that were withdrawn since. */
  readonly withdrawn: number;
  readonly leftOut: number;
  readonly outliers: number;
  readonly centre: readonly number[];
  readonly sd: number;
  readonly region: AlarmRegion;
  readonly reason: string;
  readonly caseNumber: number | null;
  readonly createdAt: string;
  readonly by: string | null;
};

/** The baseline in force. */
export type CurrentBaseline = {
  /** Null where it runs by itself. */
  readonly version: number | null;
  /** Frames that it began with, and those that it knows by now. */
  readonly frames: number;
  readonly known: number;
  readonly first: string | null;
  readonly last: string | null;
  readonly centre: readonly number[];
  readonly sd: number;
  readonly region: AlarmRegion;
  /** Nothing enters it now: a change of the stream is not over. */
  readonly isHeld: boolean;
};

export type ShownFrame = { readonly id: string; readonly serial: string; readonly value: number };

export type ShownProposal = {
  readonly frames: number;
  readonly first: string;
  readonly last: string;
  readonly chosen: number;
  readonly failing: readonly string[];
  readonly assigned: readonly string[];
  readonly outliers: readonly ShownFrame[];
  readonly centre: readonly number[];
  readonly sd: number;
  readonly region: AlarmRegion;
  readonly digest: string;
  readonly preview: {
    readonly frames: number;
    /** Frames that would have signalled; null where no baseline is in force. */
    readonly current: readonly string[] | null;
    readonly proposed: readonly string[];
  };
};

export type BaselinePage = {
  readonly id: string;
  readonly feature: FeatureName;
  readonly stream: AlarmStream;
  readonly line: string;
  readonly operationName: string;
  readonly drawing: string;
  readonly current: CurrentBaseline | null;
  /** Frames that wait to make the first baseline. */
  readonly starting: number;
  readonly newestVersion: number;
  readonly versions: readonly BaselineVersion[];
  readonly open: readonly OpenCase[];
  /** What its shifts ordinarily differ by; null where fewer than 20 tell it. */
  readonly shifts: ShiftSpread | null;
  readonly tests: StreamTests;
  readonly wished:
    | { readonly ok: true; readonly proposal: ShownProposal }
    | { readonly ok: false; readonly refusal: ApprovalRefusal }
    | { readonly ok: false; readonly words: string }
    | null;
};

async function readVersions(
  db: pg.ClientBase,
  plantId: string,
  { watch, head }: BaselineGround,
): Promise<VersionRow[]> {
  const { rows } = await db.query<VersionRow>(sql`
    select ${listed}, ${nameThen("p", "b.created_at")} as by,
      (select f.serial from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
        where i.plant_id = b.plant_id and i.id = b.frames[1]) as first,
      (select f.serial from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
        where i.plant_id = b.plant_id and i.id = b.frames[cardinality(b.frames)]) as last,
      (select count(*)::int from inspection_withdrawal w where w.plant_id = b.plant_id and w.inspection_id = any(b.frames)) as withdrawn
    from stream_baseline b left join person p on p.plant_id = b.plant_id and p.id = b.person_id
    left join drift_case c on c.plant_id = b.plant_id and c.id = b.case_id
    where b.plant_id = ${plantId} and b.watch_id = ${watch.id} and b.stream = ${head.stream.key}
    order by b.version desc limit ${VERSIONS_SHOWN}`);
  return rows;
}

function versionOf({ frames, leftOut, outliers, createdAt, person: _, ...row }: VersionRow): BaselineVersion {
  return {
    ...row,
    frames: frames.length,
    leftOut: leftOut.failing.length + leftOut.assigned.length,
    outliers: outliers.length,
    createdAt: createdAt.toISOString(),
  };
}

/** Frames that a baseline knows by now. */
function knownOf({ baseline }: AlarmState): number {
  return "sorted" in baseline ? baseline.sorted.length : baseline.count;
}

async function currentOf(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
  versions: readonly VersionRow[],
): Promise<CurrentBaseline | null> {
  const { running } = ground;
  if (running === null) return null;
  const signed = versions.find(({ version }) => version === running.version);
  const serialOf = new Map(ground.places.map(({ id, serial }) => [id, serial]));
  const known = { known: knownOf(running.state), isHeld: running.state.isOut, region: running.region };
  const ends = {
    frames: running.baseline.length,
    first: serialOf.get(running.baseline[0] ?? "") ?? signed?.first ?? null,
    last: serialOf.get(running.baseline.at(-1) ?? "") ?? signed?.last ?? null,
  };
  if (signed !== undefined) return { ...known, ...ends, version: signed.version, centre: signed.centre, sd: signed.sd };
  const made = await automaticBaseline(db, plantId, ground);
  if (made !== null) return { ...known, ...ends, version: null, centre: made.baseline.centre, sd: made.baseline.sd };
  // Where the gauge does not resolve the variation it is tested by ranks, and cannot be approved.
  const rows = await readWatchedRows(db, plantId, running.baseline);
  const values = rows.map(({ features }) => valueShown(features, ground));
  const sd = values.length < 2 ? 0 : sampleSd(values);
  return { ...known, ...ends, version: null, centre: values.length === 0 ? [] : [sampleMean(values)], sd };
}

/** A wish that a person typed and that cannot be met is answered on the page. */
async function wishedOf(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
  wish: BaselineWish,
): Promise<BaselinePage["wished"]> {
  try {
    const made = await makeProposal(db, plantId, ground, wish);
    if (!made.ok) return made;
    const { rows, chosen, baseline, digest } = made.proposal;
    const { frames, current, proposed } = await previewProposal(db, plantId, ground, made.proposal);
    const newest = rows.slice(-frames);
    const serials = (signals: readonly { readonly index: number }[]) =>
      signals.map(({ index }) => newest[index]?.serial ?? "");
    const shown = (places: readonly number[]) => places.map((place) => rows[place]?.serial ?? "");
    const valueOf = ({ features }: WatchedRow): number => valueShown(features, ground);
    return {
      ok: true,
      proposal: {
        frames: baseline.frames.length,
        first: chosen[0]?.serial ?? "",
        last: chosen.at(-1)?.serial ?? "",
        chosen: chosen.length,
        failing: shown(baseline.failing),
        assigned: shown(baseline.assigned),
        outliers: baseline.outliers.flatMap((place) => {
          const row = rows[place];
          return row === undefined ? [] : [{ id: row.id, serial: row.serial, value: valueOf(row) }];
        }),
        centre: baseline.centre,
        sd: baseline.sd,
        region: baseline.region,
        digest,
        preview: { frames, current: current === null ? null : serials(current), proposed: serials(proposed) },
      },
    };
  } catch (error) {
    if (error instanceof AppError && error.code === "invalid-input") return { ok: false, words: error.userMessage };
    throw error;
  }
}

function valueShown(features: WatchedRow["features"], { head }: BaselineGround): number {
  const at = (name: FeatureName) => features[FEATURE_PLACE.get(name) ?? -1] ?? 0;
  const { key } = head.stream;
  return key === "offset" ? Math.hypot(at("offset.12"), at("offset.3")) : at(key);
}

const named = together(lineColumns("l", { line: "key" }), operationColumns("o", { operationName: "name" }));

/**
 * The baseline of a stream: what is in force, its versions, and what a wish would make of it.
 *
 * @throws AppError not-found, refused where its frames were not looked at yet
 */
export async function readBaselinePage(
  viewer: Viewer,
  streamId: string,
  wish: BaselineWish | null,
): Promise<BaselinePage> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const reference = await getReferenceData(plantId);
  return inSqlTransaction(async (db) => {
    const head = await readBaselineHead(db, plantId, streamId);
    const watch = await findWatch(db, plantId, head);
    const grounds = await readWatchGrounds(db, plantId, head, reference);
    const ground = await readBaselineGround(db, plantId, head, watch, grounds);
    const versions = await readVersions(db, plantId, ground);
    const { rows } = await db.query<RowOf<typeof named>>(sql`
      select ${named} from line l join operation o on o.plant_id = l.plant_id
      where l.plant_id = ${plantId} and l.id = ${head.lineId} and o.id = ${head.operationId}`);
    return {
      id: head.id,
      feature: streamOf(head.feature).feature,
      stream: head.stream,
      line: rows[0]?.line ?? "",
      operationName: rows[0]?.operationName ?? "",
      drawing: grounds.drawing.key,
      current: await currentOf(db, plantId, ground, versions),
      starting: ground.starting,
      newestVersion: versions[0]?.version ?? 0,
      versions: versions.map(versionOf),
      open: ground.open,
      shifts: ground.shifts,
      tests: await readStreamTests(db, plantId, ground),
      wished: wish === null ? null : await wishedOf(db, plantId, ground, wish),
    };
  });
}

const compared = streamBaselineColumns("b", ["version", "frames", "centre", "sd", "region"]);

/** How two versions of a stream's baseline differ; null where one of them is not there. */
export async function readBaselineDifference(
  viewer: Viewer,
  streamId: string,
  { earlier, later }: { readonly earlier: number; readonly later: number },
): Promise<BaselineDifference<string> | null> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  return inSqlTransaction(async (db) => {
    const head = await readBaselineHead(db, plantId, streamId);
    const watch = await findWatch(db, plantId, head);
    const { rows } = await db.query<RowOf<typeof compared>>(sql`
      select ${compared} from stream_baseline b where b.plant_id = ${plantId} and b.watch_id = ${watch?.id ?? null}
        and b.stream = ${head.stream.key} and b.version = any(${[earlier, later]}::int[])`);
    const [from, to] = [earlier, later].map((version) => rows.find((one) => one.version === version));
    return from === undefined || to === undefined ? null : compareBaselines(from, to);
  });
}
