import "server-only";
import type { FeatureName } from "@/lib/core/metrology/features";
import type { Stability } from "@/lib/core/capability/process-capability";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import { alarmKeyOfChart, streamsOfCase } from "@/lib/quality/cases/streams-of-case";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { getPool } from "../db/client";
import { driftCaseColumns } from "../db/columns/drift-case";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import type { FrameGroup } from "./charted-frames";

/** Closed cases of a group that its streams still show, the newest. */
const CLOSED_SHOWN = 50;

const ofGroup = driftCaseColumns("c", [
  "id",
  "number",
  "state",
  "found",
  "sinceAt",
  "overAt",
  "closedAt",
  "stands",
  "cause",
  "lineId",
  "operationId",
  "drawingId",
]);
type CaseRow = RowOf<typeof ofGroup> & {
  /** Streams that signalled. */
  readonly signalled: readonly string[];
  /** Inspections at which it signalled. */
  readonly at: readonly string[];
};

/** A case as the streams see it that it is about. */
export type StreamCase = {
  readonly id: string;
  readonly number: number;
  readonly state: "open" | "closed";
  readonly found: FoundCase;
  readonly sinceAt: string;
  readonly overAt: string | null;
  readonly closedAt: string | null;
  /** False where nothing of it is left. */
  readonly stands: boolean;
  readonly cause: string | null;
  /** Inspections at which one of its streams signalled. */
  readonly signals: readonly string[];
  readonly streams: ReadonlySet<AlarmStream["key"]>;
};

const SIGNALS = sql`coalesce((select array_agg(distinct split_part(s, ' ', 2)) from unnest(c.signals) s), '{}') as signalled,
  coalesce((select array_agg(distinct split_part(s, ' ', 1)) from unnest(c.signals) s), '{}') as at`;

function caseOf({ signalled, at, sinceAt, overAt, closedAt, state, ...row }: CaseRow): StreamCase {
  const { id, number, found, stands, cause } = row;
  return {
    id,
    number,
    state: state === "open" ? "open" : "closed",
    found,
    sinceAt: sinceAt.toISOString(),
    overAt: overAt?.toISOString() ?? null,
    closedAt: closedAt?.toISOString() ?? null,
    stands,
    cause,
    signals: at,
    streams: streamsOfCase(found, signalled),
  };
}

/** Cases of a group, oldest first: all that are open, and the newest closed ones. */
export async function readGroupCases(plantId: string, group: FrameGroup): Promise<StreamCase[]> {
  const { rows } = await getPool().query<CaseRow>(sql`
    select ${ofGroup}, ${SIGNALS} from drift_case c
    where c.plant_id = ${plantId} and c.line_id = ${group.lineId} and c.operation_id = ${group.operationId}
      and c.drawing_id = ${group.drawingId} and (c.state = 'open' or c.state = 'closed' and c.number in (
        select k.number from drift_case k where k.plant_id = c.plant_id and k.line_id = c.line_id
          and k.operation_id = c.operation_id and k.drawing_id = c.drawing_id and k.state = 'closed'
        order by k.number desc limit ${CLOSED_SHOWN}))
    order by c.since_at, c.number`);
  return rows.map(caseOf);
}

/** The open cases of a plant by the group in which they are. */
export async function readOpenCases(plantId: string): Promise<ReadonlyMap<string, readonly StreamCase[]>> {
  const { rows } = await getPool().query<CaseRow>(sql`
    select ${ofGroup}, ${SIGNALS} from drift_case c
    where c.plant_id = ${plantId} and c.state = 'open' order by c.since_at, c.number limit 1000`);
  const groups = new Map<string, StreamCase[]>();
  for (const row of rows) groups.set(groupKey(row), [...(groups.get(groupKey(row)) ?? []), caseOf(row)]);
  return groups;
}

export const groupKey = ({ lineId, operationId, drawingId }: FrameGroup): string =>
  `${lineId} ${operationId} ${drawingId}`;

/** Those of the cases that are about a charted feature. */
export function casesOfFeature(cases: readonly StreamCase[], feature: FeatureName): readonly StreamCase[] {
  const key = alarmKeyOfChart(feature);
  return key === null ? [] : cases.filter(({ streams }) => streams.has(key));
}

/** A stream of which a case is open is not stable, whatever its chart says. */
export function stabilityBeside(cases: readonly StreamCase[], otherwise: Stability): Stability {
  const open = cases.filter(({ state, stands }) => state === "open" && stands).map(({ number }) => number);
  if (open.length === 0) return otherwise;
  const names = open.length === 1 ? `case ${open[0]} is` : `cases ${open.join(", ")} are`;
  return { verdict: "unstable", because: `${names} open` };
}
