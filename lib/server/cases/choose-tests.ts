import "server-only";
import type pg from "pg";
import { SHORTEST_ALARM_RUN } from "@/lib/core/control/alarm/alarm-budget";
import { AppError } from "@/lib/errors";
import { PREVIEWED_FRAMES } from "@/lib/quality/alarm/approve-baseline";
import { CHOSEN_TESTS, type ChosenTest } from "@/lib/core/control/alarm/chosen-test";
import {
  type ChosenTestFacts,
  chosenTestFacts,
  chosenTestMarks,
  chosenTestScores,
} from "@/lib/quality/alarm/chosen-tests";
import type { ChooseTests } from "@/lib/schemas/baseline";
import { uuidV7 } from "@/lib/schemas/identifier";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { personColumns } from "../db/columns/person";
import { streamTestsColumns } from "../db/columns/stream-tests";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { subjectsOf } from "../journal/row-hashes";
import { findWatch } from "./advance-watch";
import { CASES_CHAIN } from "./case-entries";
import { type BaselineGround, currentStart, groundColumns, readBaselineHead, runLengthNow } from "./propose-baseline";
import { readWatchedRows } from "./watched-frames";

/** Versions that a page lists, the newest. */
const VERSIONS_SHOWN = 20;

const listed = together(
  streamTestsColumns("t", ["version", "tests", "reason", "createdAt"]),
  personColumns("p", { by: "name" }),
);

/** A version of the tests of a stream. */
export type TestsVersion = Omit<RowOf<typeof listed>, "createdAt"> & { readonly createdAt: string };

/** The tests of a stream beside those of the scheme. */
export type StreamTests = {
  /** Newest version, 0 where none was ever chosen. */
  readonly version: number;
  readonly chosen: readonly ChosenTest[];
  /** Run length that the budget gives the stream. */
  readonly runLength: number;
  /** Of every test that may be chosen; none where the stream is a vector. */
  readonly facts: readonly ChosenTestFacts[];
  /** Frames of the newest thousand that each chosen test marks, by serial; null where there is no baseline yet. */
  readonly marks: readonly { readonly test: ChosenTest; readonly serials: readonly string[] }[] | null;
  readonly versions: readonly TestsVersion[];
};

async function readVersions(
  db: pg.ClientBase,
  plantId: string,
  watchId: string,
  key: string,
): Promise<readonly TestsVersion[]> {
  const { rows } = await db.query<RowOf<typeof listed>>(sql`
    select ${listed} from stream_tests t join person p on p.plant_id = t.plant_id and p.id = t.person_id
    where t.plant_id = ${plantId} and t.watch_id = ${watchId} and t.stream = ${key}
    order by t.version desc limit ${VERSIONS_SHOWN}`);
  return rows.map(({ createdAt, ...row }) => ({ ...row, createdAt: createdAt.toISOString() }));
}

/** The chosen tests of a stream with what they cost and what they mark. */
export async function readStreamTests(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
): Promise<StreamTests> {
  const { head, watch, places } = ground;
  const { stream } = head;
  const versions = await readVersions(db, plantId, watch.id, stream.key);
  const newest = versions[0];
  const chosen = newest?.tests ?? [];
  const runLength = Math.max(SHORTEST_ALARM_RUN, runLengthNow(ground));
  const facts = stream.kind === "vector" ? [] : CHOSEN_TESTS.map((test) => chosenTestFacts(test, runLength));
  const known = { version: newest?.version ?? 0, chosen, runLength, facts, versions };
  const start = chosen.length === 0 ? null : await currentStart(db, plantId, ground);
  if (start === null) return { ...known, marks: chosen.length === 0 ? [] : null };
  const looked = places.filter(({ hasValue }) => hasValue).slice(-PREVIEWED_FRAMES);
  const rows = await readWatchedRows(
    db,
    plantId,
    looked.map(({ id }) => id),
  );
  const scores = chosenTestScores(groundColumns(ground, rows), stream, start.started);
  const serialsOf = (test: ChosenTest) =>
    chosenTestMarks(
      test,
      (scores ?? []).map(({ score }) => score),
      runLength,
    ).map((at) => rows[scores?.[at]?.frame ?? -1]?.serial ?? "");
  return { ...known, marks: chosen.map((test) => ({ test, serials: serialsOf(test) })) };
}

/**
 * Chooses tests for a stream beside those of the scheme, as a new version: they mark frames and make no case.
 *
 * @throws AppError forbidden, not-found, refused for a vector or a stream that is not watched yet, conflict
 */
export async function chooseTests(
  viewer: Viewer,
  { streamId, versionSeen, tests, reason }: ChooseTests,
  now: Date = new Date(),
): Promise<{ readonly version: number }> {
  assertMay(viewer, "drift.approve-baseline");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  return inSqlTransaction(async (db) => {
    const { stream, ...head } = await readBaselineHead(db, plantId, streamId);
    const watch = await findWatch(db, plantId, head, true);
    if (watch === null || stream.kind === "vector")
      throw new AppError(
        "refused",
        watch === null
          ? "The frames of this stream were not looked at yet. Nothing was changed; try again in a minute."
          : "The offset has a direction: these tests are of one number. Nothing was changed.",
      );
    const versions = await readVersions(db, plantId, watch.id, stream.key);
    const newest = versions[0]?.version ?? 0;
    if (newest !== versionSeen)
      throw new AppError(
        "conflict",
        `Somebody else chose version ${newest} of these tests meanwhile. Nothing was changed; look at it first.`,
      );
    const id = uuidV7(now.getTime());
    const version = newest + 1;
    await db.query(sql`
      insert into stream_tests (plant_id, id, watch_id, stream, version, tests, reason, created_at, person_id)
      values (${plantId}, ${id}, ${watch.id}, ${stream.key}, ${version}, ${tests}::text[], ${reason}, ${now}, ${personId})`);
    const chain = await lockChain(db, plantId, CASES_CHAIN);
    await appendToLockedChain(db, chain, {
      plantId,
      chain: CASES_CHAIN,
      at: now,
      actor: actorOf(viewer),
      action: "tests.chosen",
      subjects: await subjectsOf(db, plantId, "stream_tests", [id]),
      payload: { stream: streamId, version, tests, reason },
    });
    return { version };
  });
}
