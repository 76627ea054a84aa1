import "server-only";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import { sideOfCause } from "@/lib/quality/cause-side";
import {
  type BatchCounts,
  type DayFrame,
  inOrder,
  QUEUE_PATIENCE_MS,
  type TaskAbout,
  type TaskKind,
  type TodayOrder,
  type TodayTask,
} from "@/lib/quality/today/today-task";
import { plantDayStart, shownMoment } from "@/lib/schemas/plant-day";
import type { Verdict } from "@/lib/quality/verdict-words";
import { type Action, mayDo } from "../auth/permissions";
import type { PersonViewer, Viewer } from "../auth/viewer";
import { listCases } from "../cases/queries";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { driftCaseColumns } from "../db/columns/drift-case";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { supplierColumns } from "../db/columns/supplier";
import { streamColumns } from "../db/columns/stream";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { listStreams } from "../drift/list-streams";
import { getFirstOffState } from "../gate/first-off";
import { listStandingGauges } from "../gauges/gauge-standing";
import { listDevices } from "../line/devices";
import { listStations } from "../line/queries";
import { listJobs } from "../worker/job-list";

/** Frames that a line's day shows; of more the newest. */
const MOST_FRAMES = 400;
/** Held batches that are listed, the longest held first. */
const MOST_BATCHES = 50;
/** A calibration that ends so soon is said beforehand. */
const DUE_SOON_DAYS = 30;
const DAY_MS = 86_400_000;

/** The day of one line and operation, frame by frame. */
export type LineDay = {
  readonly line: string;
  readonly operation: string;
  /** Oldest first. */
  readonly frames: readonly DayFrame[];
  /** How many there are; more than frames where the day is longer than what is shown. */
  readonly measured: number;
};

/** A gauge whose calibration ends soon. */
export type DueGauge = { readonly gauge: string; readonly dueMs: number };

/** A tool that meets a limit within the next weeks, and no case says so. */
export type WornTool = { readonly line: string; readonly tool: string; readonly least: number; readonly most: number };

export type TodayPage = {
  readonly now: string;
  /** In the order in which they are done. */
  readonly tasks: readonly TodayTask[];
  /** Kinds of tasks that the viewer sees, whether there are any or not. */
  readonly kinds: readonly TaskKind[];
  readonly due: readonly DueGauge[];
  readonly worn: readonly WornTool[];
  /** "2026-12-01" by the plant's clock: today, or the last day on which anything was measured; null where nothing ever was. */
  readonly day: string | null;
  readonly isToday: boolean;
  readonly lines: readonly LineDay[];
};

type Draft = Pick<TodayTask, "key" | "sinceMs" | "href"> & {
  readonly about: TaskAbout;
  /** Who may take the next step. */
  readonly duty: Action;
  readonly gravity?: number;
  readonly owner?: { readonly id: string; readonly name: string } | null;
};

function taskOf(viewer: PersonViewer, { duty, owner = null, gravity = 0, ...task }: Draft): TodayTask {
  const isMine = owner === null ? mayDo(viewer, duty) : owner.id === viewer.personId;
  return { ...task, gravity, isMine, owner: owner?.name ?? null };
}

async function caseTasks(viewer: PersonViewer): Promise<Draft[]> {
  const { cases } = await listCases(viewer, { open: "true", limit: 200 });
  return cases.map(({ id, number, line, found, heldBatches, overAt, stands, cause, owner, ownerId, openedAt }) => ({
    key: `case ${id}`,
    about: { kind: "case", number, line, found, heldBatches, isOver: overAt !== null || !stands, cause },
    sinceMs: Date.parse(openedAt),
    href: `/drift/cases/${id}`,
    gravity: found.outside.length,
    duty: "drift.manage-cases",
    owner: ownerId === null || owner === null ? null : { id: ownerId, name: owner },
  }));
}

/** Tools on watch, the nearest to its limit first; one whose streams are in an open case is that case's matter. */
async function wornTools(viewer: PersonViewer, cases: readonly Draft[]): Promise<readonly WornTool[]> {
  const { streams } = await listStreams(viewer);
  const known = new Set(
    cases.flatMap(({ about }) =>
      about.kind === "case" ? about.found.members.map(({ feature }) => `${about.line} ${feature}`) : [],
    ),
  );
  const nearest = new Map<string, WornTool>();
  for (const { line, feature, forecast } of streams) {
    if (forecast === null || known.has(`${line} ${feature}`)) continue;
    const [least, most] = forecast.interval;
    const key = `${line} ${forecast.tool}`;
    if (most !== null && least < (nearest.get(key)?.least ?? Infinity))
      nearest.set(key, { line, tool: forecast.tool, least, most });
  }
  return [...nearest.values()].toSorted((a, b) => a.least - b.least);
}

const heldBatch = together(
  batchColumns("b", { batch: "key", heldAt: "heldAt" }),
  supplierColumns("s", { supplier: "name" }),
  lineColumns("l", { line: "key" }),
  orNull(driftCaseColumns("c", { caseNumber: "number" })),
);
type HeldRow = RowOf<typeof heldBatch> & BatchCounts & { answer: FoundCase["answer"] | null };

const DUTY_OF_SIDE = { ours: "drift.manage-cases", supplier: "returns.manage", open: "gate.decide" } as const;

async function batchTasks({ plantId }: PersonViewer): Promise<Draft[]> {
  const { rows } = await getPool().query<HeldRow>(sql`
    select ${heldBatch}, t.frames, t.conforms, t.not_conforming as "notConforming", t.not_proven as "notProven", t.unmeasured,
      c.found -> 'answer' as answer
    from batch b
    join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id and t.gone < t.frames
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    left join lateral (select c.number, c.found from case_batch cb
      join drift_case c on c.plant_id = cb.plant_id and c.id = cb.case_id and c.state <> 'joined'
      where cb.plant_id = b.plant_id and cb.batch_id = b.id order by c.state = 'open' desc, c.number desc limit 1) c on true
    where b.plant_id = ${plantId} and b.held_at is not null
    order by b.held_at, b.key limit ${MOST_BATCHES}`);
  return rows.map(({ batch, heldAt, supplier, line, caseNumber, answer, ...counts }) => {
    const side = answer?.kind === "probable" ? sideOfCause(answer.cause) : "open";
    return {
      key: `batch ${batch}`,
      about: { kind: "batch", batch, supplier, line, counts, caseNumber, side },
      sinceMs: heldAt?.getTime() ?? null,
      href: `/gate/batches/${encodeURIComponent(batch)}`,
      gravity: counts.notConforming,
      duty: DUTY_OF_SIDE[side],
    };
  });
}

/** Open escapes by their reason: frames that left for one reason are told of and closed together. */
async function escapeTasks({ plantId }: PersonViewer): Promise<Draft[]> {
  const { rows } = await getPool().query<{ reason: string; frames: number; since: Date }>(sql`
    select e.reason, count(distinct e.frame_id)::int as frames, min(e.opened_at) as since from escape e
    where e.plant_id = ${plantId} and e.closed_at is null group by e.reason order by since, e.reason limit 50`);
  return rows.map(({ reason, frames, since }) => ({
    key: `escapes ${reason}`,
    about: { kind: "escapes", frames, reason },
    gravity: frames,
    sinceMs: since.getTime(),
    href: "/gate/escapes",
    duty: "gate.decide",
  }));
}

async function gaugeTasks(viewer: PersonViewer, now: Date): Promise<{ tasks: Draft[]; due: DueGauge[] }> {
  const gauges = await listStandingGauges(viewer, now);
  const tasks = gauges
    .filter(({ state }) => state === "in-doubt" || state === "quarantined")
    .map(({ key, station, state, reasons }): Draft => {
      const [first] = reasons;
      const sinceMs =
        first?.code === "zero-failed" ? first.foundMs : first?.code === "calibration-over" ? first.dueMs : null;
      return {
        key: `gauge ${key}`,
        about: { kind: "gauge", gauge: key, station, state, reasons },
        sinceMs,
        href: `/gauges/${encodeURIComponent(key)}`,
        duty: "gauges.manage",
      };
    });
  const due = gauges
    .filter(({ state }) => state === "in-use" || state === "in-doubt")
    .flatMap(({ key, calibrations }) => {
      const dueMs = Math.max(...calibrations.map(({ dueAt }) => Date.parse(dueAt)));
      return dueMs < now.getTime() + DUE_SOON_DAYS * DAY_MS ? [{ gauge: key, dueMs }] : [];
    })
    .toSorted((a, b) => a.dueMs - b.dueMs);
  return { tasks, due };
}

async function firstOffTasks(viewer: PersonViewer, now: Date): Promise<Draft[]> {
  const stations = await listStations(viewer);
  const states = await Promise.all(
    stations.map(async (station) => ({ station, asked: await getFirstOffState(viewer, station.id, now) })),
  );
  const seen = new Set<string>();
  return states.flatMap(({ station, asked }): Draft[] => {
    if (asked.state === "not asked" || asked.state === "released") return [];
    // Stations of one line and operation ask for the same frame.
    const key = `first-off ${station.line} ${station.operation}`;
    if (seen.has(key)) return [];
    seen.add(key);
    const frame = asked.state === "waiting" ? asked.frame : null;
    const conforms = frame?.verdict === "conforms";
    return [
      {
        key,
        about: {
          kind: "first-off",
          line: station.line,
          station: station.name,
          why: asked.why,
          serial: frame?.serial ?? null,
          conforms,
        },
        sinceMs: Date.parse(asked.since),
        href: conforms ? "/setup/first-off" : "/line",
        duty: conforms ? "line.release-first-off" : "line.inspect",
      },
    ];
  });
}

async function deviceTasks(viewer: PersonViewer, now: Date): Promise<Draft[]> {
  const devices = await listDevices(viewer);
  return devices.flatMap(({ id, name, station, queue, revokedAt }): Draft[] => {
    if (queue === null || revokedAt !== null) return [];
    const sinceMs = queue.oldestAt === null ? null : Date.parse(queue.oldestAt);
    const isLate = queue.waiting > 0 && sinceMs !== null && now.getTime() - sinceMs > QUEUE_PATIENCE_MS;
    if (queue.refused === 0 && !isLate) return [];
    const { waiting, refused } = queue;
    return [
      {
        key: `device ${id}`,
        about: { kind: "device", device: name, station, waiting, refused },
        sinceMs,
        href: "/setup/devices",
        duty: "line.manage-devices",
      },
    ];
  });
}

async function jobTasks(viewer: PersonViewer): Promise<Draft[]> {
  const { kinds } = await listJobs(viewer);
  return kinds
    .filter(({ counts }) => counts.failed > 0)
    .map(({ name, title, counts, items }) => {
      const times = items.filter(({ state }) => state === "failed").map(({ at }) => Date.parse(at));
      return {
        key: `job ${name}`,
        about: { kind: "job", title, failed: counts.failed },
        sinceMs: times.length === 0 ? null : Math.min(...times),
        href: "/setup/jobs",
        duty: "jobs.manage",
      };
    });
}

const measured = together(
  inspectionColumns("i", ["verdict", "measuredAt", "lineId", "operationId"]),
  frameColumns("f", { serial: "serial" }),
);
const group = together(
  streamColumns("g", ["lineId", "operationId"]),
  lineColumns("l", { line: "key" }),
  operationColumns("o", { operation: "name" }),
);
type Group = RowOf<typeof group> & { newest: Date | null };

/** What each line measured on a day: today, or the last day on which anything was measured. */
export async function readDay({ plantId, plantZone }: Pick<Viewer, "plantId" | "plantZone">, now: Date) {
  const { rows: groups } = await getPool().query<Group>(sql`
    select ${group}, max(n.at) as newest
    from (select distinct plant_id, line_id, operation_id, drawing_id from stream where plant_id = ${plantId}) g
    join line l on l.plant_id = g.plant_id and l.id = g.line_id and l.active
    join operation o on o.plant_id = g.plant_id and o.id = g.operation_id
    left join lateral (select max(i.measured_at) as at from inspection i where i.plant_id = g.plant_id and i.line_id = g.line_id
      and i.operation_id = g.operation_id and i.drawing_id = g.drawing_id and i.measured_at <= ${now}) n on true
    group by g.line_id, g.operation_id, l.key, o.name, o.position order by l.key, o.position`);
  const newest = Math.max(...groups.map((one) => one.newest?.getTime() ?? -Infinity));
  if (newest === -Infinity) return { day: null, isToday: true, lines: [] };
  const day = shownMoment(new Date(newest), plantZone).slice(0, 10);
  const isToday = day === shownMoment(now, plantZone).slice(0, 10);
  const from = plantDayStart(day, plantZone);
  const { rows } = await getPool().query<
    RowOf<typeof measured> & { measured: number; place: number; verdict: Verdict }
  >(sql`
    select * from (
      select ${measured}, count(*) over (partition by i.line_id, i.operation_id)::int as measured,
        row_number() over (partition by i.line_id, i.operation_id order by i.measured_at desc, i.id desc)::int as place
      from (select distinct plant_id, line_id, operation_id, drawing_id from stream where plant_id = ${plantId}) g
      join inspection i on i.plant_id = g.plant_id and i.line_id = g.line_id and i.operation_id = g.operation_id
        and i.drawing_id = g.drawing_id and i.measured_at >= ${from} and i.measured_at <= ${now}
      join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where ${notWithdrawn} and not exists (select 1 from inspection j where j.plant_id = i.plant_id and j.frame_id = i.frame_id
        and j.operation_id = i.operation_id and j.measured_at > i.measured_at and j.measured_at <= ${now}
        and not exists (select 1 from inspection_withdrawal w where w.plant_id = j.plant_id and w.inspection_id = j.id))
    ) m where place <= ${MOST_FRAMES} order by "measuredAt", serial`);
  const lines = groups.map(({ lineId, operationId, line, operation }): LineDay => {
    const own = rows.filter((row) => row.lineId === lineId && row.operationId === operationId);
    const frames = own.map(({ serial, verdict, measuredAt }) => ({ serial, verdict, atMs: measuredAt.getTime() }));
    return { line, operation, frames, measured: own[0]?.measured ?? 0 };
  });
  return { day, isToday, lines };
}

function orderOf({ roles }: PersonViewer): TodayOrder {
  if (roles.includes("engineer") || roles.includes("inspector")) return "process";
  return roles.includes("administrator") ? "installation" : "release";
}

/**
 * What waits in the plant, of that which the viewer may see, and the day of each line.
 *
 * @returns tasks in the order of the viewer's duties
 */
export async function readToday(viewer: PersonViewer, now: Date = new Date()): Promise<TodayPage> {
  async function of<T>(action: Action, read: () => Promise<T>, none: T): Promise<T> {
    return mayDo(viewer, action) ? read() : none;
  }
  const [cases, batches, escapes, gauges, firstOffs, devices, jobs, day] = await Promise.all([
    of("drift.view", () => caseTasks(viewer), null),
    of("gate.view", () => batchTasks(viewer), null),
    of("gate.view", () => escapeTasks(viewer), null),
    of("gauges.view", () => gaugeTasks(viewer, now), null),
    of("line.view", () => firstOffTasks(viewer, now), null),
    of("line.view", () => deviceTasks(viewer, now), null),
    of("jobs.view", () => jobTasks(viewer), null),
    of("line.view", () => readDay(viewer, now), { day: null, isToday: true, lines: [] }),
  ]);
  const blocks: readonly (readonly [TaskKind, readonly Draft[] | null])[] = [
    ["escapes", escapes],
    ["gauge", gauges?.tasks ?? null],
    ["case", cases],
    ["batch", batches],
    ["first-off", firstOffs],
    ["device", devices],
    ["job", jobs],
  ];
  const drafts = blocks.flatMap(([, found]) => found ?? []);
  return {
    now: now.toISOString(),
    tasks: inOrder(
      drafts.map((draft) => taskOf(viewer, draft)),
      orderOf(viewer),
    ),
    kinds: blocks.flatMap(([kind, found]) => (found === null ? [] : [kind])),
    due: gauges?.due ?? [],
    worn: cases === null ? [] : await wornTools(viewer, cases),
    ...day,
  };
}
