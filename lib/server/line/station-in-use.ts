import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { stationColumns } from "../db/columns/station";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { LINE_WORDS } from "./words";

const words = LINE_WORDS.stationInUse;

const named = stationColumns("s", ["name"]);

/** Why a station takes nothing, in the words that its devices show; null while it and its line are in use. */
export async function whyStationClosed(
  db: pg.Pool | pg.ClientBase,
  plantId: string,
  stationId: string,
): Promise<AppError | null> {
  const { rows } = await db.query<RowOf<typeof named> & { inUse: boolean }>(sql`
    select ${named}, s.active and l.active as "inUse" from station s
    join line l on l.plant_id = s.plant_id and l.id = s.line_id
    where s.plant_id = ${plantId} and s.id = ${stationId}`);
  const [station] = rows;
  if (!station) return new AppError("not-found", words.stationIsNotKnown);
  if (station.inUse) return null;
  return new AppError("refused", words.isOutOfUse(station.name));
}
