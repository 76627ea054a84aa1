import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { Verdict } from "@/lib/quality/verdict-words";
import { frameColumns } from "../db/columns/frame";
import type { RowOf } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import { GAUGES_CHAIN } from "../evidence/suspect-spans";
import { type FrameNow, frameNowColumns, type KnownInspection } from "./placed-inspection";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.recordingReads;

/** Frames of some serials, locked to the end of the transaction, always in the same order. */
const lockedFrames = (plantId: string, serials: readonly string[]) => sql`
  select ${frameNowColumns}, b.held_at is not null as "batchHeld"
  from frame f
  join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
  join measuring_plan p on p.plant_id = b.plant_id and p.id = b.plan_id
  join line l on l.plant_id = b.plant_id and l.id = b.line_id
  where f.plant_id = ${plantId} and f.serial = any(${serials})
  order by f.id for update of f`;
const similar = frameColumns("frame", ["serial"]);

/** Reads the frames of some serials and locks them to the end of the transaction, always in the same order. */
export async function lockFrames(
  db: pg.ClientBase,
  plantId: string,
  serials: readonly string[],
): Promise<Map<string, FrameNow>> {
  const { rows } = await db.query<FrameNow>(prepared("lock-frames", lockedFrames(plantId, serials)));
  return new Map(rows.map((row) => [row.serial, row]));
}

type FrameJson = Omit<FrameNow, "leasedAt" | "evidenceFrom" | "shippedAt"> & {
  readonly leasedAt: string | null;
  readonly evidenceFrom: string | null;
  readonly shippedAt: string | null;
};

type KnownJson = { readonly id: string; readonly hash: string; readonly serial: string; readonly verdict: Verdict };

const toDate = (text: string | null): Date | null => (text === null ? null : new Date(text));

/**
 * Locks the frames of some serials, as lockFrames does, and reads which of some inspections are here already: one statement,
 * since each costs the line a wait. With them the number of zero checks so far, which tells whether what is remembered of the
 * gauges still holds.
 */
export async function readForRecording(
  db: pg.ClientBase,
  plantId: string,
  serials: readonly string[],
  ids: readonly string[],
): Promise<{
  readonly frames: Map<string, FrameNow>;
  readonly known: Map<string, KnownInspection>;
  readonly gaugesVersion: number;
}> {
  const { rows } = await db.query<{ frames: FrameJson[] | null; known: KnownJson[] | null; gauges: string | null }>(
    prepared(
      "read-for-recording",
      sql`with locked as materialized (${lockedFrames(plantId, serials)})
        select (select json_agg(l) from locked l) as frames,
          (select json_agg(json_build_object('id', i.id, 'hash', encode(i.content_hash, 'hex'), 'serial', f.serial,
              'verdict', i.verdict))
            from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
            where i.plant_id = ${plantId} and i.id = any(${ids}::uuid[])) as known,
          (select c.length from journal_chain c where c.plant_id = ${plantId} and c.chain = ${GAUGES_CHAIN}) as gauges`,
    ),
  );
  const { frames, known, gauges } = rows[0] ?? { frames: null, known: null, gauges: null };
  return {
    gaugesVersion: Number(gauges ?? 0),
    frames: new Map(
      (frames ?? []).map((row) => [
        row.serial,
        {
          ...row,
          leasedAt: toDate(row.leasedAt),
          evidenceFrom: toDate(row.evidenceFrom),
          shippedAt: toDate(row.shippedAt),
        },
      ]),
    ),
    known: new Map(
      (known ?? []).map(({ id, hash, serial, verdict }) => [
        id,
        { contentHash: Buffer.from(hash, "hex"), serial, verdict },
      ]),
    ),
  };
}

/** Serials that differ from a typed one by two neighbouring characters in the wrong order. */
function swapped(serial: string): string[] {
  return Array.from(
    { length: serial.length - 1 },
    (_, at) => serial.slice(0, at) + (serial[at + 1] ?? "") + (serial[at] ?? "") + serial.slice(at + 2),
  );
}

/** Adds to "no such serial" the known serials that look like it. */
export async function lookAlikes(
  db: pg.ClientBase,
  plantId: string,
  serial: string,
  refused: AppError,
): Promise<AppError> {
  const { rows } = await db.query<RowOf<typeof similar>>(sql`
    select ${similar} from frame where plant_id = ${plantId} and serial = any(${swapped(serial)}) order by serial limit 3`);
  if (rows.length === 0) return refused;
  const serials = rows.map((row) => row.serial);
  return new AppError(refused.code, words.knownAndSimilar(refused.userMessage, serials.join(", ")), {
    details: { similar: serials },
  });
}
