import "server-only";
import { AppError } from "@/lib/errors";
import type { StudyReading } from "@/lib/core/gauge-studies/crossed-layout";
import { studyOrder } from "@/lib/core/gauge-studies/study-order";
import type { KeyStudyReading, PlanStudy } from "@/lib/schemas/gauge-study";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { gaugeColumns } from "../db/columns/gauge";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { idOf } from "../plant/change-setup";
import { GAUGES_WORDS } from "./words";

const words = GAUGES_WORDS.studies;

export type GaugeStudy = {
  readonly id: string;
  readonly gauge: string;
  readonly title: string;
  readonly unit: "mm" | "µm";
  readonly tolerance: number | null;
  readonly parts: readonly string[];
  readonly inspectors: readonly string[];
  readonly trials: number;
  readonly at: string;
  /** Readings that are there, and how many there will be. */
  readonly keyed: number;
  readonly asked: number;
};

type StudyRow = Omit<GaugeStudy, "gauge" | "at" | "keyed" | "asked"> & { seed: number; at: Date; keyed: number };

const gaugeOf = gaugeColumns("g", { gauge: "key" });

async function readStudies(plantId: string, id: string | null) {
  const { rows } = await getPool().query<StudyRow & RowOf<typeof gaugeOf>>(sql`
    select s.id, ${gaugeOf}, s.title, s.unit, s.tolerance, s.parts, s.inspectors, s.trials, s.seed, s.at,
      (select count(distinct r.place)::int from gauge_study_reading r
        where r.plant_id = s.plant_id and r.study_id = s.id) as keyed
    from gauge_study s join gauge g on g.plant_id = s.plant_id and g.id = s.gauge_id
    where s.plant_id = ${plantId} and (${id}::text is null or s.id::text = ${id}) order by s.at desc, s.id desc`);
  return rows;
}

const toStudy = ({ seed: _, at, ...row }: StudyRow & { gauge: string }): GaugeStudy => ({
  ...row,
  at: at.toISOString(),
  asked: row.parts.length * row.inspectors.length * row.trials,
});

/**
 * Studies of the plant's gauges, the newest first.
 *
 * @throws AppError forbidden
 */
export async function listStudies(viewer: Viewer): Promise<readonly GaugeStudy[]> {
  assertMay(viewer, "gauges.view");
  return (await readStudies(viewer.plantId, null)).map(toStudy);
}

/** The reading that is asked for next. */
export type AskedReading = {
  readonly place: number;
  readonly part: string;
  readonly inspector: string;
  /** Its number among those of the inspector, from 1. */
  readonly number: number;
  readonly of: number;
};

export type StudyPage = {
  readonly study: GaugeStudy;
  /** How far each inspector is. */
  readonly progress: readonly { readonly inspector: string; readonly keyed: number; readonly of: number }[];
  /** The next reading of the inspector; null where he is through, or none was named. */
  readonly next: AskedReading | null;
  /** All readings, in no order that matters: only where the study is complete, so that nobody sees values before. */
  readonly readings: readonly StudyReading[] | null;
};

/**
 * One study: what is asked for next, and its readings once all are there.
 *
 * @param inspector - who measures now
 * @throws AppError forbidden, not-found
 */
export async function getStudy(viewer: Viewer, id: string, inspector: string | null): Promise<StudyPage> {
  assertMay(viewer, "gauges.view");
  const [row] = await readStudies(viewer.plantId, id);
  if (!row) throw new AppError("not-found", words.noStudy);
  const study = toStudy(row);
  const { parts, inspectors, trials } = study;
  const { rows } = await getPool().query<{ place: number; value: number }>(sql`
    select distinct on (r.place) r.place, r.value from gauge_study_reading r
    where r.plant_id = ${viewer.plantId} and r.study_id = ${row.id} order by r.place, r.at desc, r.id desc`);
  const values = new Map(rows.map(({ place, value }) => [place, value]));
  const order = studyOrder({ parts: parts.length, inspectors: inspectors.length, trials }, row.seed);
  const inspectorAt = (place: number) => Math.floor(place / trials) % inspectors.length;
  const partAt = (place: number) => parts[Math.floor(place / trials / inspectors.length)] ?? "";
  const own = (at: number) => order.filter((place) => inspectorAt(place) === at);
  const chosen = inspector === null ? -1 : inspectors.indexOf(inspector);
  const mine = own(chosen);
  const open = mine.findIndex((place) => !values.has(place));
  const place = mine[open];
  return {
    study,
    progress: inspectors.map((name, at) => ({
      inspector: name,
      keyed: own(at).filter((each) => values.has(each)).length,
      of: parts.length * trials,
    })),
    next:
      place === undefined
        ? null
        : { place, part: partAt(place), inspector: inspectors[chosen] ?? "", number: open + 1, of: mine.length },
    readings:
      study.keyed < study.asked
        ? null
        : order.map((each) => ({
            part: partAt(each),
            inspector: inspectors[inspectorAt(each)] ?? "",
            trial: String((each % trials) + 1),
            value: values.get(each) ?? 0,
          })),
  };
}

/**
 * Plans a study; the order is drawn here and kept.
 *
 * @throws AppError forbidden, not-found
 */
export async function planStudy(
  viewer: Viewer,
  input: PlanStudy,
  { at = new Date(), seed }: { readonly at?: Date; readonly seed: number },
): Promise<{ readonly id: string }> {
  assertMay(viewer, "gauges.manage");
  const { plantId } = viewer;
  return inSqlTransaction(async (db) => {
    const gaugeId = await idOf(db, plantId, "gauge", input.gauge);
    const { rowCount } = await db.query(sql`
      insert into gauge_study (plant_id, id, gauge_id, title, unit, tolerance, parts, inspectors, trials, seed, person_id, at)
      values (${plantId}, ${input.id}, ${gaugeId}, ${input.title}, ${input.unit}, ${input.tolerance}, ${input.parts},
        ${input.inspectors}, ${input.trials}, ${seed}, ${viewer.kind === "person" ? viewer.personId : null}, ${at})
      on conflict do nothing`);
    if (rowCount === 0) return { id: input.id };
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at,
      actor: actorOf(viewer),
      action: "gauge-study.planned",
      subjects: [],
      payload: { ...input, seed },
    });
    return { id: input.id };
  });
}

/**
 * Keeps one reading of a study. Sent again it changes nothing; another one for the same place is kept beside it and counts
 * instead.
 *
 * @throws AppError forbidden, not-found, invalid-input for a place that the study does not have
 */
export async function keyStudyReading(viewer: Viewer, input: KeyStudyReading, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "line.zero-check");
  const { plantId } = viewer;
  const [row] = await readStudies(plantId, input.study);
  if (!row) throw new AppError("not-found", words.noStudy);
  const asked = row.parts.length * row.inspectors.length * row.trials;
  if (input.place >= asked) throw new AppError("invalid-input", words.noPlace(asked));
  await inSqlTransaction(async (db) => {
    const { rowCount } = await db.query(sql`
      insert into gauge_study_reading (plant_id, id, study_id, place, value, person_id, at)
      values (${plantId}, ${input.id}, ${input.study}, ${input.place}, ${input.value},
        ${viewer.kind === "person" ? viewer.personId : null}, ${at})
      on conflict do nothing`);
    if (rowCount === 0) return;
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at,
      actor: actorOf(viewer),
      action: "gauge-study.keyed",
      subjects: [],
      payload: input,
    });
  });
}
