import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { tieOf, type Hands, type Tie } from "@/lib/quality/kept-apart";
import { inspectionColumns } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import type { PersonViewer } from "./viewer";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.keptApart;

const hand = inspectionColumns("i", { inspector: "inspectorId", device: "deviceId" });

type HandRow = RowOf<typeof hand> & {
  readonly others: readonly (string | null)[];
  readonly actors: readonly string[];
};

/**
 * Everybody who had a hand in some inspections: who finished each, who took single readings or keyed a replaced one, who was
 * signed in when it was sent (whatever badge it names), and the device that it came from.
 */
async function handsIn(db: pg.ClientBase, plantId: string, inspectionIds: readonly string[]): Promise<Hands> {
  // An inspection and the journal's entry of its recording carry the same moment.
  const { rows } = await db.query<HandRow>(sql`
    select ${hand},
      array(select one ->> 'personId' from jsonb_array_elements(coalesce(i.attributes -> 'inspectors', '[]') || i.superseded) one) as others,
      array(select e.actor from journal_entry e where e.plant_id = i.plant_id and e.at = i.recorded_at
        and e.subjects @> jsonb_build_array(jsonb_build_object('table', 'inspection', 'id', i.id))) as actors
    from inspection i where i.plant_id = ${plantId} and i.id = any(${inspectionIds}::uuid[])`);
  const known = (list: readonly (string | null)[]): string[] => list.filter((one): one is string => one !== null);
  return {
    keyedBy: new Set(known(rows.flatMap(({ inspector, others }) => [inspector, ...others]))),
    sentBy: new Set(rows.flatMap(({ actors }) => actors.map((actor) => actor.replace(/^person:/, "")))),
    devices: new Set(known(rows.map(({ device }) => device))),
  };
}

const BECAUSE = {
  keyed: "You took readings of it",
  sent: "It was recorded under your sign-in",
  device: "It was recorded on this device",
} as const satisfies Record<Tie, string>;

/**
 * Refuses to let somebody judge inspections that they had a hand in: by their readings, by a badge, by their sign-in behind
 * somebody else's badge, and by the device where that is given.
 *
 * @param options.act - what somebody else has to do, e.g. "withdraw it"
 * @param options.deviceIds - devices that the judge's sign-in is used on, for acts that count as done there
 * @throws AppError refused, with `tie` in its details
 */
export async function assertKeptApart(
  db: pg.ClientBase,
  viewer: PersonViewer,
  inspectionIds: readonly string[],
  { act, deviceIds = [] }: { readonly act: string; readonly deviceIds?: readonly string[] },
): Promise<void> {
  const tie = tieOf({ personId: viewer.personId, deviceIds }, await handsIn(db, viewer.plantId, inspectionIds));
  if (tie === null) return;
  const how = tie === "device" ? words.somebodyHasToOnAnother(act) : words.somebodyElseHasTo(act);
  throw new AppError("refused", words.nothingWasChanged(BECAUSE[tie], how), { details: { tie } });
}
