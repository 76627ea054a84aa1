import "server-only";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import { assertMay } from "../auth/permissions";
import type { TokenViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { driftCaseColumns } from "../db/columns/drift-case";
import { lineColumns } from "../db/columns/line";
import { personColumns } from "../db/columns/person";
import { plantColumns } from "../db/columns/plant";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { type LineDay, readDay } from "./queries";

const plantNamed = plantColumns("plant", ["name"]);
const onWall = together(
  driftCaseColumns("c", ["number", "found", "sinceAt"]),
  lineColumns("l", { line: "key" }),
  orNull(personColumns("p", { owner: "name" })),
);

/** An open case as the wall shows it; `sinceAt` is ISO 8601. */
export type WallCase = {
  readonly line: string;
  readonly number: number;
  readonly found: FoundCase;
  readonly sinceAt: string;
  readonly owner: string | null;
};

export type WallLine = {
  readonly line: string;
  readonly name: string;
  readonly days: readonly LineDay[];
  /** Frames that hold now. */
  readonly held: number;
  /** The gravest open case of the line: most frames outside, then the oldest. */
  readonly worst: WallCase | null;
  readonly cases: number;
};

export type Wall = {
  readonly plant: string;
  readonly now: string;
  readonly day: string | null;
  readonly isToday: boolean;
  readonly lines: readonly WallLine[];
};

const lineNamed = lineColumns("l", { line: "key", name: "name" });

/**
 * What hangs on the wall of the shop: the day of each line in use, what is held and which case is open.
 *
 * @param line - key of the only line that is shown; null: all of them
 * @throws AppError forbidden
 */
export async function readWall(viewer: TokenViewer, line: string | null = null, now: Date = new Date()): Promise<Wall> {
  assertMay(viewer, "wall.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [plants, lines, cases, day] = await Promise.all([
    pool.query<RowOf<typeof plantNamed>>(sql`select ${plantNamed} from plant where id = ${plantId}`),
    pool.query<RowOf<typeof lineNamed> & { held: number }>(sql`
      select ${lineNamed}, coalesce((select sum(t.held) from batch b join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
        where b.plant_id = l.plant_id and b.line_id = l.id and b.held_at is not null and t.gone < t.frames), 0)::int as held
      from line l where l.plant_id = ${plantId} and l.active and (${line}::text is null or l.key = ${line}) order by l.key`),
    pool.query<RowOf<typeof onWall>>(sql`
      select ${onWall} from drift_case c join line l on l.plant_id = c.plant_id and l.id = c.line_id
      left join person p on p.plant_id = c.plant_id and p.id = c.owner_id
      where c.plant_id = ${plantId} and c.state = 'open'
      order by coalesce(jsonb_array_length(c.found -> 'outside'), 0) desc, c.opened_at, c.number`),
    readDay(viewer, now),
  ]);
  return {
    plant: plants.rows[0]?.name ?? "",
    now: now.toISOString(),
    day: day.day,
    isToday: day.isToday,
    lines: lines.rows.map(({ line: key, name, held }) => {
      const own = cases.rows.filter((one) => one.line === key);
      const [worst = null] = own.map(({ sinceAt, ...one }) => ({ ...one, sinceAt: sinceAt.toISOString() }));
      return { line: key, name, held, days: day.lines.filter((one) => one.line === key), worst, cases: own.length };
    }),
  };
}
