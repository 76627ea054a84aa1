import "server-only";
import type pg from "pg";
import { measureFrame } from "@/lib/core/metrology/measure-frame";
import { alarmKeyOf, ALARM_STREAMS, type AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { caseSignals } from "@/lib/quality/alarm/case-signals";
import type { AlarmedStream } from "@/lib/quality/alarm/run-line";
import type { WatchedStream } from "@/lib/quality/alarm/watch-line";
import type { AlarmTest } from "@/lib/core/control/alarm/stream-alarm";
import type {
  CaseEvent,
  CaseFeature,
  CaseFrame,
  CaseLine,
  CaseZeroCheck,
  EventKind,
  LabelName,
  OvalFeature,
  Signal,
} from "@/lib/quality/cases/case";
import { type CaseColumns, caseStreams, outsideOf } from "@/lib/quality/cases/case-streams";
import { ovalVector } from "@/lib/quality/cases/oval-vector";
import { shiftsOf } from "@/lib/quality/cases/shifts-of";
import { streamRole } from "@/lib/quality/cases/stream-kind";
import { eventColumns, notCorrected } from "../db/columns/event";
import { gaugeColumns } from "../db/columns/gauge";
import { type RowOf, together } from "../db/columns/table-columns";
import { zeroCheckColumns } from "../db/columns/zero-check";
import { sql } from "../db/sql";
import type { PlanReference, ReferenceData } from "../evidence/reference-data";
import type { Watch } from "./advance-watch";
import type { WatchGrounds } from "./watch-grounds";
import { isBeforeStart } from "./baseline-starts";
import { featureOf, guardedBy, isBefore, isFailing, isOutside, type WatchedRow } from "./watched-frames";

/** What a person wrote down, as causes know it. */
const EVENT_KINDS: Readonly<Record<string, EventKind>> = {
  "reamer changed": "tool",
  "fixture shimmed": "fixture",
  "mould cleaned": "mould",
  "gauge checked": "gauge",
};

/** An event of a line with its key. */
export type LineEvent = CaseEvent & { readonly id: string; readonly at: Date; readonly text: string };

const eventOf = eventColumns("event", ["id", "kind", "at", "text", "subject"]);

async function readEvents(db: pg.ClientBase, plantId: string, lineId: string, rows: readonly WatchedRow[]) {
  const { rows: events } = await db.query<RowOf<typeof eventOf>>(sql`
    select ${eventOf} from event where plant_id = ${plantId} and (line_id = ${lineId} or line_id is null)
      and at >= ${rows[0]?.at ?? new Date()} and ${notCorrected} order by at, id`);
  return events.map(({ kind, ...one }): LineEvent => {
    const place = rows.findIndex(({ at }) => at >= one.at);
    return { ...one, kind: EVENT_KINDS[kind] ?? "other", place: place < 0 ? rows.length : place };
  });
}

const checkOf = together(
  gaugeColumns("g", { gauge: "key" }),
  zeroCheckColumns("z", { at: "at", deviationUm: "driftUm", limitUm: "limitUm" }),
);

async function readZeroChecks(
  db: pg.ClientBase,
  plantId: string,
  gauges: readonly string[],
  rows: readonly WatchedRow[],
): Promise<CaseZeroCheck[]> {
  const { rows: checks } = await db.query<RowOf<typeof checkOf>>(sql`
    select ${checkOf} from zero_check z join gauge g on g.plant_id = z.plant_id and g.id = z.gauge_id
    where z.plant_id = ${plantId} and g.key = any(${gauges}::text[]) and z.at >= ${rows[0]?.at ?? new Date()} order by z.at, z.id`);
  // The limit of a zero check is twice the root of the variances of ring, display and repeatability.
  return checks.map(({ gauge, at, deviationUm, limitUm }) => {
    const later = rows.findIndex((row) => row.at >= at);
    return { gauge, deviationUm, sdUm: limitUm / 2, place: later < 0 ? rows.length : later };
  });
}

async function readClosed(db: pg.ClientBase, plantId: string): Promise<CaseLine["closed"]> {
  const { rows } = await db.query<{ cause: string; times: number }>(sql`
    select coalesce(cause, '') as cause, count(*)::int as times from drift_case
    where plant_id = ${plantId} and state = 'closed' and cause is not null group by 1`);
  return Object.fromEntries(rows.map(({ cause, times }) => [cause, times]));
}

const GAUGE_LABELS = { bore: "gauge.bore", sweep: "gauge.sweep", face: "gauge.face", width: "gauge.width" } as const;

/** Gauge of each kind of reading: that of the first such reading of the plan. */
function gaugesOf({ gauges, gaugeKeys }: WatchedRow, plan: PlanReference | undefined): CaseFrame["labels"] {
  const labels: Partial<Record<LabelName, string>> = {};
  for (const [kind, label] of Object.entries(GAUGE_LABELS)) {
    const first = plan?.names.findIndex((name) => name.kind === kind) ?? -1;
    const gauge = gaugeKeys[gauges[first] ?? -1];
    if (gauge !== undefined) labels[label] = gauge;
  }
  return labels;
}

function labelsOf(row: WatchedRow, plan: PlanReference | undefined, shift: string | null): CaseFrame["labels"] {
  const { tool, fixture, mould, inspector, supplier, batch } = row;
  const own = { tool, fixture, mould, inspector, supplier, batch, shift };
  const known = Object.entries(own).filter((one): one is [string, string] => one[1] !== null);
  return { ...gaugesOf(row, plan), ...Object.fromEntries(known) };
}

type Ovals = Partial<Record<OvalFeature, number>>;

/** An inspection never changes, so the ovals of its seats are computed once. */
const knownOvals = new Map<string, Ovals>();
const MOST_OVALS = 20_000;

function ovalsOf(row: WatchedRow, plan: PlanReference | undefined): Ovals {
  const before = knownOvals.get(row.id);
  if (before !== undefined) return before;
  const { bores } = plan === undefined ? { bores: null } : measureFrame(plan.compiled, row.readings);
  const ovals = bores === null ? {} : { ...ovalVector("ds", bores.ds), ...ovalVector("nds", bores.nds) };
  if (knownOvals.size >= MOST_OVALS) knownOvals.clear();
  knownOvals.set(row.id, ovals);
  return ovals;
}

function isOval(feature: CaseFeature): feature is OvalFeature {
  return streamRole(feature)?.kind === "oval";
}

/** Whether a stream began anew after a frame: what it showed before belongs to another level. */
function isOvertaken({ restarts, starts }: Watch, key: AlarmStream["key"], row: WatchedRow): boolean {
  if (isBeforeStart(starts, key, row)) return true;
  return restarts.some(({ keys, at, id }) => keys.includes(key) && isBefore(row, { at: new Date(at), id }));
}

const NONE = Number.NaN;

function columnsOf({ watch, grounds, rows, reference, streams }: LineGrounds): CaseColumns {
  const { drawing, boreReadings } = grounds;
  const { plans } = reference;
  const baselines = new Map(streams.map(({ key, running }) => [key, new Set(running?.baseline)]));
  const isHidden = (key: AlarmStream["key"], row: WatchedRow) =>
    isOvertaken(watch, key, row) && baselines.get(key)?.has(row.id) !== true;
  const made = new Map<CaseFeature, readonly number[]>();
  const valueAt = (row: WatchedRow, feature: CaseFeature): number =>
    isOval(feature)
      ? (ovalsOf(row, plans.get(row.planRevisionId))[feature] ?? NONE)
      : (featureOf(row, feature) ?? NONE);
  return {
    frames: rows.length,
    boreReadings,
    guarded: guardedBy(drawing),
    column(feature) {
      const key = alarmKeyOf(feature);
      const column =
        made.get(feature) ?? rows.map((row) => (key !== null && isHidden(key, row) ? NONE : valueAt(row, feature)));
      made.set(feature, column);
      return column;
    },
    isFailing: (place, stream) => rows[place] !== undefined && isFailing(rows[place], stream),
    isOutside: (place, stream) => rows[place] !== undefined && isOutside(rows[place], stream),
  };
}

export type StoredSignal = {
  readonly inspectionId: string;
  readonly stream: AlarmStream["key"];
  readonly side: "upper" | "lower" | null;
  readonly test: AlarmTest;
};

export type LineGrounds = {
  readonly watch: Watch;
  readonly grounds: WatchGrounds;
  readonly reference: ReferenceData;
  /** Key of its operation, which says whether its frames are painted. */
  readonly operation: string;
  readonly streams: readonly WatchedStream[];
  /** Frames of the baselines and of the window, in the order of measuring. */
  readonly rows: readonly WatchedRow[];
  readonly signals: readonly StoredSignal[];
};

/** A line as cases are gathered from it. */
export type GatheredLine = {
  readonly line: CaseLine;
  readonly signals: readonly Signal[];
  readonly events: readonly LineEvent[];
};

/** Reads what happened beside the frames of a line and puts it together for gatherCases. */
export async function readCaseLine(db: pg.ClientBase, plantId: string, given: LineGrounds): Promise<GatheredLine> {
  const { watch, reference, rows } = given;
  const placeOf = new Map(rows.map(({ id }, place) => [id, place]));
  const columns = columnsOf(given);
  const known = new Map(given.streams.map((one) => [one.key, one]));
  const alarmed = ALARM_STREAMS.flatMap((stream): AlarmedStream[] => {
    const own = known.get(stream.key);
    if (own === undefined) return [];
    const frames = own.running?.baseline ?? own.starting.map(({ id }) => id);
    const signals = given.signals.flatMap(({ inspectionId, stream: of, side, test }) => {
      const index = placeOf.get(inspectionId);
      const isOfBefore =
        index !== undefined && rows[index] !== undefined && isBeforeStart(watch.starts, of, rows[index]);
      return of !== stream.key || index === undefined || isOfBefore ? [] : [{ index, side, test }];
    });
    return [
      {
        stream,
        baseline: frames.flatMap((id) => placeOf.get(id) ?? []),
        before: [],
        outliers: [],
        refusal: own.refusal,
        region: own.running?.region ?? null,
        signals,
        overFrom: [],
      },
    ];
  });
  const shifts = shiftsOf(rows.map(({ at }) => at.getTime()));
  const frames = rows.map((row, place): CaseFrame => ({
    serial: row.serial,
    labels: labelsOf(row, reference.plans.get(row.planRevisionId), shifts[place] ?? null),
    outside: outsideOf(columns, alarmed, place),
  }));
  const events = await readEvents(db, plantId, watch.lineId, rows);
  const gauges = [...new Set(frames.flatMap(({ labels }) => labels["gauge.bore"] ?? []))];
  return {
    line: {
      line: watch.lineId,
      operation: given.operation,
      frames,
      streams: caseStreams(columns, alarmed),
      events,
      zeroChecks: await readZeroChecks(db, plantId, gauges, rows),
      closed: await readClosed(db, plantId),
      ownCauses: [],
    },
    signals: caseSignals(alarmed, columns),
    events,
  };
}
