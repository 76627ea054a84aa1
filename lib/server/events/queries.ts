import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { eventColumns } from "../db/columns/event";
import { lineColumns } from "../db/columns/line";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";

export type EventItem = {
  readonly id: string;
  /** Null where it concerns all lines. */
  readonly line: string | null;
  readonly kind: string;
  readonly at: string;
  readonly text: string;
  readonly subject: string | null;
  /** Null where a program entered it. */
  readonly by: string | null;
  /** Why it does not stand as it was entered; null where it does. */
  readonly correction: {
    readonly reason: string;
    readonly at: string;
    readonly by: string | null;
    /** The event that stands in its place; null where nothing was done. */
    readonly insteadId: string | null;
  } | null;
};

export type WantedEvents = { readonly line?: string | undefined; readonly before?: string | undefined };

const SHOWN = 100;

const listed = together(
  eventColumns("event", ["id", "kind", "at", "text", "subject"]),
  orNull(lineColumns("l", { line: "key" })),
);
type Row = RowOf<typeof listed> & {
  readonly by: string | null;
  readonly correctedAt: Date | null;
  readonly reason: string | null;
  readonly correctedBy: string | null;
  readonly insteadId: string | null;
};

/** What people did, newest first, with what was said of it later. A line's list has what concerns all lines, too. */
export async function listEvents(
  viewer: Viewer,
  { line, before }: WantedEvents = {},
): Promise<{ readonly events: readonly EventItem[]; readonly next: string | null }> {
  assertMay(viewer, "drift.view");
  const { rows } = await getPool().query<Row>(sql`
    select ${listed}, ${nameThen("p", "event.at")} as by, c.at as "correctedAt", c.reason, c.instead_id as "insteadId",
      ${nameThen("cp", "c.at")} as "correctedBy"
    from event
    left join line l on l.plant_id = event.plant_id and l.id = event.line_id
    left join person p on p.plant_id = event.plant_id and p.id = event.person_id
    left join event_correction c on c.plant_id = event.plant_id and c.event_id = event.id
    left join person cp on cp.plant_id = c.plant_id and cp.id = c.person_id
    where event.plant_id = ${viewer.plantId} and (${line ?? null}::text is null or l.key = ${line ?? null} or event.line_id is null)
      and (${before ?? null}::uuid is null
        or (event.at, event.id) < (select e.at, e.id from event e where e.plant_id = ${viewer.plantId} and e.id = ${before ?? null}::uuid))
    order by event.at desc, event.id desc limit ${SHOWN + 1}`);
  const shown = rows.slice(0, SHOWN);
  return {
    events: shown.map(({ correctedAt, reason, correctedBy, insteadId, at, ...row }) => ({
      ...row,
      at: at.toISOString(),
      correction:
        correctedAt === null
          ? null
          : { reason: reason ?? "", at: correctedAt.toISOString(), by: correctedBy, insteadId },
    })),
    next: rows.length > SHOWN ? (shown.at(-1)?.id ?? null) : null,
  };
}

const lineOfEvents = lineColumns("line", ["id", "key", "name"]);

/** Lines on which something can be done, by their keys. */
export async function listEventLines(viewer: Viewer): Promise<readonly RowOf<typeof lineOfEvents>[]> {
  assertMay(viewer, "drift.view");
  const { rows } = await getPool().query<RowOf<typeof lineOfEvents>>(
    sql`select ${lineOfEvents} from line where plant_id = ${viewer.plantId} and active order by key`,
  );
  return rows;
}
