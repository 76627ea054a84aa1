import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { noLimitsText } from "@/lib/format/signal-words";
import { baselineOf } from "@/lib/quality/baseline";
import { APPROVABLE_FRAMES, estimateControlLimits, streamValue } from "@/lib/quality/control-limits";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import type { ApproveLimits } from "@/lib/schemas/decision";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { lineColumns } from "../db/columns/line";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { BASELINE_SEARCH, candidatesFor, readBaselineRows } from "./baseline-frames";
import { growGroup, putLimitsInForce } from "./grow-streams";
import { streamOf } from "./charted-frames";

const streamHead = together(
  streamColumns("st", ["feature", "lineId", "operationId", "drawingId"]),
  lineColumns("l", { lineKey: "key" }),
);
/** Frames of a baseline that somebody chose by its dates. */
const MOST_FRAMES = 100_000;

function leftOutText(frames: number): string {
  if (frames <= 0) return "";
  return `, without ${frames} that are not shown to conform or have an assigned cause`;
}

/**
 * Computes limits from a baseline, approves them and puts them in force as a new version. Frames that are not shown to conform, and
 * those of a case or an earlier signal with an assigned cause, are left out.
 *
 * @throws AppError forbidden, not-found, refused (fewer than 100 frames, no variation)
 */
export async function approveLimits(
  viewer: Viewer,
  input: ApproveLimits,
  now: Date = new Date(),
): Promise<{ readonly frames: number }> {
  assertMay(viewer, "drift.approve-limits");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query<RowOf<typeof streamHead>>(sql`
      select ${streamHead} from stream st join line l on l.plant_id = st.plant_id and l.id = st.line_id
      where st.plant_id = ${plantId} and st.id = ${input.streamId} for update of st`);
    const head = rows[0];
    if (!head) throw new AppError("not-found", "There is no such stream. Nothing was changed.");
    const stream = streamOf(head.feature);
    const { lineId, operationId, drawingId } = head;
    const group = { lineId, operationId, drawingId };
    const isChosen = input.from !== undefined;
    const read = await readBaselineRows(db, plantId, group, {
      from: input.from === undefined ? null : new Date(input.from),
      to: input.to === undefined ? null : new Date(input.to),
      end: "newest",
      most: isChosen ? MOST_FRAMES : BASELINE_SEARCH,
    });
    const candidates = candidatesFor(read, input.streamId, (features) => streamValue(stream, features));
    const size = isChosen ? MOST_FRAMES : APPROVABLE_FRAMES;
    const charted = baselineOf(candidates, streamSubject(stream.feature), { size, end: "newest" });
    const first = charted[0];
    const last = charted.at(-1);
    if (!first || !last || charted.length < APPROVABLE_FRAMES)
      throw new AppError(
        "refused",
        `Limits can be approved from ${APPROVABLE_FRAMES} frames on; this baseline has ${charted.length}${leftOutText(candidates.length - charted.length)}. Nothing was changed; choose a longer one or wait.`,
      );
    const limits = estimateControlLimits(
      stream,
      charted.map((one) => one.value),
    );
    if (!limits.ok) throw new AppError("refused", `${noLimitsText(limits.reason)} Nothing was changed.`);
    const approval = { personId, at: now };
    const id = await putLimitsInForce(
      db,
      plantId,
      input.streamId,
      limits.value,
      { from: first.at, to: last.at },
      approval,
      now,
    );
    await growGroup(db, plantId, group, { from: last.at, to: now }, now);
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "limits.approved",
      subjects: [],
      payload: { stream: input.streamId, limitSet: id, frames: charted.length, from: first.at, to: last.at },
    });
    return { frames: charted.length };
  });
}
