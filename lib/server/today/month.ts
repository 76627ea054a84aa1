import "server-only";
import { fractionInterval } from "@/lib/core/distributions/binomial";
import { plantDayStart, shownMoment } from "@/lib/schemas/plant-day";
import type { Verdict } from "@/lib/quality/verdict-words";
import { assertMay, mayDo } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { readAlarmScheme } from "../cases/queries";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { type CostBySide, readCostBySide } from "../gate/own-costs";

/** Days that the figures cover, today's included. */
export const MONTH_DAYS = 30;
const DAY_MS = 86_400_000;
const WEEK_DAYS = 7;
const MOST_LISTED = 100;
const CONFIDENCE = 0.95;

/** How many frames conformed when they were measured for the first time. */
type Share = {
  readonly measured: number;
  readonly passed: number;
  /** Exact 95 % interval of the share, frames taken as independent. */
  readonly lower: number;
  readonly upper: number;
};
export type FirstPass = Share & { readonly line: string; readonly operation: string };

/** A frame that did not conform when it was measured for the first time; moments are ISO 8601. */
export type FirstFailure = {
  readonly serial: string;
  readonly batch: string;
  readonly line: string;
  readonly operation: string;
  readonly verdict: Verdict;
  readonly measuredAt: string;
};

export type MonthPage = {
  /** "2026-11-02", by the plant's clock. */
  readonly from: string;
  readonly lines: readonly FirstPass[];
  /** All lines together; null where nothing was measured. */
  readonly all: Share | null;
  /** The newest of those of the lines, and of one line where it was asked for. */
  readonly failures: readonly FirstFailure[];
  readonly failed: number;
  /** Frames that hold now, and for how many hours together their batches have been held. */
  readonly held: { readonly frames: number; readonly hours: number } | null;
  /** What signers said that decisions cost, by whose cause; null where the viewer does not see Gate. */
  readonly cost: CostBySide | null;
  /** Cases opened, those of them closed without a cause found, and how many of these the budget bears. */
  readonly cases: { readonly opened: number; readonly unfounded: number; readonly borne: number } | null;
};

const group = together(lineColumns("l", { line: "key" }), operationColumns("o", { operation: "name" }));
type Pass = RowOf<typeof group> & { measured: number; passed: number };

const first = together(
  inspectionColumns("i", { verdict: "verdict", measuredAt: "measuredAt" }),
  frameColumns("f", { serial: "serial" }),
  batchColumns("b", { batch: "key" }),
  lineColumns("l", { line: "key" }),
  operationColumns("o", { operation: "name" }),
);

async function readFirstPass(plantId: string, from: Date, now: Date): Promise<readonly FirstPass[]> {
  const { rows } = await getPool().query<Pass>(sql`
    select ${group}, sum(n.measured)::int as measured, sum(n.passed)::int as passed
    from (select distinct plant_id, line_id, operation_id, drawing_id from stream where plant_id = ${plantId}) g
    join line l on l.plant_id = g.plant_id and l.id = g.line_id
    join operation o on o.plant_id = g.plant_id and o.id = g.operation_id
    cross join lateral (select count(*) as measured, count(*) filter (where i.verdict = 'conforms') as passed from inspection i
      where i.plant_id = g.plant_id and i.line_id = g.line_id and i.operation_id = g.operation_id and i.drawing_id = g.drawing_id
        and i.measured_at >= ${from} and i.measured_at <= ${now} and i.ordinal = 1 and ${notWithdrawn}) n
    group by l.key, o.name, o.position having sum(n.measured) > 0 order by l.key, o.position`);
  return rows.map((row) => ({ ...row, ...fractionInterval(row.passed, row.measured, CONFIDENCE) }));
}

function shareOfAll(lines: readonly FirstPass[]): Share | null {
  const measured = lines.reduce((sum, one) => sum + one.measured, 0);
  const passed = lines.reduce((sum, one) => sum + one.passed, 0);
  return measured === 0 ? null : { measured, passed, ...fractionInterval(passed, measured, CONFIDENCE) };
}

async function readFailures(plantId: string, from: Date, now: Date, line: string | null): Promise<FirstFailure[]> {
  const { rows } = await getPool().query<RowOf<typeof first> & { verdict: Verdict }>(sql`
    select ${first}
    from (select distinct plant_id, line_id, operation_id, drawing_id from stream where plant_id = ${plantId}) g
    join inspection i on i.plant_id = g.plant_id and i.line_id = g.line_id and i.operation_id = g.operation_id
      and i.drawing_id = g.drawing_id and i.measured_at >= ${from} and i.measured_at <= ${now}
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    join line l on l.plant_id = i.plant_id and l.id = i.line_id
    join operation o on o.plant_id = i.plant_id and o.id = i.operation_id
    where i.ordinal = 1 and i.verdict <> 'conforms' and ${notWithdrawn} and (${line}::text is null or l.key = ${line})
    order by i.measured_at desc, f.serial limit ${MOST_LISTED}`);
  return rows.map(({ measuredAt, ...row }) => ({ ...row, measuredAt: measuredAt.toISOString() }));
}

async function readHeld(plantId: string, now: Date) {
  const { rows } = await getPool().query<{ frames: number; hours: number }>(sql`
    select coalesce(sum(t.held), 0)::int as frames,
      coalesce(sum(t.held * extract(epoch from ${now}::timestamptz - b.held_at) / 3600), 0)::float8 as hours
    from batch b join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
    where b.plant_id = ${plantId} and b.held_at is not null and t.gone < t.frames`);
  return rows[0] ?? { frames: 0, hours: 0 };
}

async function readCases(viewer: Viewer, from: Date, now: Date) {
  const [{ rows }, scheme] = await Promise.all([
    getPool().query<{ opened: number; unfounded: number }>(sql`
      select count(*)::int as opened, count(*) filter (where state = 'closed' and cause = 'unknown')::int as unfounded
      from drift_case where plant_id = ${viewer.plantId} and state <> 'joined' and opened_at >= ${from} and opened_at <= ${now}`),
    readAlarmScheme(viewer),
  ]);
  const { opened, unfounded } = rows[0] ?? { opened: 0, unfounded: 0 };
  return { opened, unfounded, borne: (scheme.budget * MONTH_DAYS) / WEEK_DAYS };
}

/**
 * Figures of the last thirty days by the plant's clock, and the frames behind them.
 *
 * @param line - key of the line whose failures are listed; null: of all
 * @throws AppError forbidden
 */
export async function readMonth(
  viewer: Viewer,
  line: string | null = null,
  now: Date = new Date(),
): Promise<MonthPage> {
  assertMay(viewer, "records.view");
  const { plantId, plantZone } = viewer;
  const day = shownMoment(new Date(now.getTime() - (MONTH_DAYS - 1) * DAY_MS), plantZone).slice(0, 10);
  const from = plantDayStart(day, plantZone);
  const [lines, failures, held, cost, cases] = await Promise.all([
    readFirstPass(plantId, from, now),
    readFailures(plantId, from, now, line),
    mayDo(viewer, "gate.view") ? readHeld(plantId, now) : null,
    mayDo(viewer, "gate.view") ? readCostBySide(viewer, from, now) : null,
    mayDo(viewer, "drift.view") ? readCases(viewer, from, now) : null,
  ]);
  const shown = lines.filter((one) => line === null || one.line === line);
  const failed = shown.reduce((sum, { measured, passed }) => sum + measured - passed, 0);
  return { from: day, lines, all: shareOfAll(lines), failures, failed, held, cost, cases };
}
