import "server-only";
import type { PersonViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { eventColumns } from "../db/columns/event";
import { signalColumns } from "../db/columns/signal";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { assignCause } from "../drift/commands";
import type { DemoProgress } from "./demo-progress";

const AT_ONCE = 4;

const old = together(signalColumns("s", ["id"]), orNull(eventColumns("e", { nextEvent: "text" })));

/** Assigns causes to the signals of long ago, as the engineer did then: by the next thing that was done on their line. */
export async function settleOldSignals(
  plantId: string,
  people: ReadonlyMap<string, PersonViewer>,
  before: Date,
  onProgress: DemoProgress,
): Promise<void> {
  const engineer = [...people.values()].find((person) => person.roles.includes("engineer"));
  if (!engineer) return;
  const { rows } = await getPool().query<RowOf<typeof old>>(sql`
    select ${old} from signal s
    join stream st on st.plant_id = s.plant_id and st.id = s.stream_id
    left join lateral (select text from event e where e.plant_id = s.plant_id and e.line_id = st.line_id
      and e.at >= s.measured_at and e.at < s.measured_at + interval '6 days' order by e.at limit 1) e on true
    where s.plant_id = ${plantId} and s.state = 'open' and s.measured_at < ${before} order by s.measured_at, s.id`);
  const waiting = [...rows];
  let done = 0;
  const work = async (): Promise<void> => {
    for (let signal = waiting.shift(); signal !== undefined; signal = waiting.shift()) {
      const cause = signal.nextEvent ?? "Looked at: no cause found, nothing done";
      await assignCause(engineer, { signalId: signal.id, cause }, before);
      done += 1;
      onProgress("old signals closed", done, rows.length);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
}
