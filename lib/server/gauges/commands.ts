import "server-only";
import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import { formatFixed } from "@/lib/format/number-text";
import { isDeepStrictEqual } from "node:util";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { suspectParts, suspectSpanAt, zeroErrorUm, zeroLimitUm } from "@/lib/core/metrology/comparator";
import type { RecordZeroCheck } from "@/lib/schemas/gauge";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { gaugeColumns } from "../db/columns/gauge";
import { journalEntryColumns } from "../db/columns/journal-entry";
import { settingRingColumns } from "../db/columns/setting-ring";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { foundOutText } from "../evidence/gauge-use";
import {
  assertDeviceInUse,
  forgetReferenceData,
  getReferenceData,
  inspectorOf,
  withGaugesAsNow,
  type ReferenceData,
} from "../evidence/reference-data";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { rowHash } from "../journal/vouched-rows";
import { momentDone } from "../base/moment";
import { assertTokenDevice, tieToDevice } from "../auth/device-tie";
import { lockLines } from "../evidence/lock-lines";
import { writeEvents } from "../outbox/write-events";
import { judgeAgain, type JudgedAgain } from "../evidence/judge-again";
import {
  readRestingInspections,
  type RestingInspection,
  restingOnGauge,
  type RestingOnGauge,
} from "../evidence/resting-frames";
import { DRIFT_ROUNDING_UM, GAUGES_CHAIN, type FoundOutSpan } from "../evidence/suspect-spans";

/** What a zero check came to. */
export type ZeroCheckRecorded = {
  readonly id: string;
  /** "repeated": the same check was here already, nothing was written. */
  readonly status: "recorded" | "repeated";
  readonly gauge: string;
  readonly ring: string;
  readonly certifiedMm: number;
  readonly readingMm: number;
  /** What the gauge shows less what the ring is, µm. */
  readonly driftUm: number;
  readonly limitUm: number;
  readonly passed: boolean;
  readonly at: string;
  /** The last good check before a failed one; null where there was none, or this one passed. */
  readonly since: string | null;
  /** Everything that rests on the gauge since then; null where the check passed. */
  readonly resting: RestingOnGauge | null;
  /** What the check changed: counts of frames and the batches that hold by it. */
  readonly held: number;
  readonly escapes: number;
  readonly batchesHeld: readonly string[];
};

const KEPT = "Nothing was stored.";
/** No comparator drifts so far: the wrong ring, or a slip of the key. */
const MOST_DRIFT_UM = 500;

const checkedGauge = together(
  gaugeColumns("g", { gaugeId: "id", resolutionUm: "resolutionUm", repeatabilityUm: "repeatabilityUm" }),
  orNull(
    settingRingColumns("r", {
      ringId: "id",
      ring: "key",
      certifiedMm: "certifiedSizeMm",
      ringUncertaintyUm: "uncertaintyUm",
    }),
  ),
);
const journalled = journalEntryColumns("journal_entry", ["payload"]);
type GaugeWithRing = { gaugeId: string; ringId: string; ring: string; certifiedMm: number; limitUm: number };

/** The gauge with the ring that it was shown; its own, where the check names none. */
async function findGauge(
  db: pg.ClientBase,
  plantId: string,
  { gauge: key, ring: shown }: RecordZeroCheck,
): Promise<GaugeWithRing> {
  const { rows } = await db.query<RowOf<typeof checkedGauge>>(sql`
    select ${checkedGauge}
    from gauge g left join setting_ring r on r.plant_id = g.plant_id
      and case when ${shown ?? null}::text is null then r.id = g.ring_id else r.key = ${shown ?? null} end
    where g.plant_id = ${plantId} and g.key = ${key}`);
  const found = rows[0];
  if (!found)
    throw new AppError("not-found", `The gauge ${key} is not known. ${KEPT} Enter it in Setup or choose another.`);
  const { gaugeId, ringId, ring, certifiedMm } = found;
  if (shown !== undefined && ringId === null)
    throw new AppError("not-found", `The setting ring ${shown} is not known. ${KEPT} Enter it in Setup.`);
  if (ringId === null || ring === null || certifiedMm === null)
    throw new AppError("refused", `Gauge ${key} has no setting ring: there is nothing to check it against. ${KEPT}`);
  return { gaugeId, ringId, ring, certifiedMm, limitUm: zeroLimitUm(found) };
}

function driftOf(input: RecordZeroCheck, { ring, certifiedMm }: GaugeWithRing): number {
  const exact = zeroErrorUm({ atMs: 0, certifiedMm, readingMm: input.readingMm });
  const driftUm = toDecimals(exact, 6);
  if (Math.abs(driftUm) <= MOST_DRIFT_UM) return driftUm;
  throw new AppError(
    "invalid-input",
    `${input.readingMm} mm is ${formatFixed(Math.abs(driftUm / 1000), 3)} mm away from ring ${ring}, ${certifiedMm} mm. ${KEPT} ` +
      "Send the size that the gauge shows in its own ring.",
    { fields: [{ path: "readingMm", message: `must lie within ${MOST_DRIFT_UM / 1000} mm of ${certifiedMm}` }] },
  );
}

function checkedAt(input: RecordZeroCheck, { zone }: ReferenceData, now: Date): Date {
  if (input.at === undefined) return now;
  const at = new Date(Date.parse(input.at) - (input.clockSkewMs ?? 0));
  return momentDone(at, now, { of: "zero check", kept: KEPT, path: "at", zone });
}

function checkedBy(viewer: Viewer, input: RecordZeroCheck, reference: ReferenceData, at: Date): string | null {
  if (input.inspectorCode === undefined) return viewer.kind === "person" ? viewer.personId : null;
  return inspectorOf(input.inspectorCode, reference, at, KEPT).id;
}

type Payload = Omit<ZeroCheckRecorded, "id" | "status" | "resting"> & {
  /** The sender's own clock, where it is known to be off, and the device. */
  readonly deviceTime?: string;
  readonly deviceId?: string;
  readonly heldSerials: readonly string[];
  readonly escapedSerials: readonly string[];
};

/** The answer that an earlier send of the same check got, from its journal entry. */
async function findRepeated(
  db: pg.ClientBase,
  plantId: string,
  input: RecordZeroCheck,
): Promise<ZeroCheckRecorded | null> {
  const { rows: known } = await db.query(
    sql`select 1 from zero_check where plant_id = ${plantId} and id = ${input.id}`,
  );
  if (known.length === 0) return null;
  const { rows } = await db.query<RowOf<typeof journalled> & { payload: Payload }>(sql`
    select ${journalled} from journal_entry where plant_id = ${plantId} and chain = ${GAUGES_CHAIN}
      and subjects @> ${JSON.stringify([{ table: "zero_check", id: input.id }])}::jsonb`);
  const payload = rows[0]?.payload;
  const isSame =
    payload?.gauge === input.gauge &&
    payload.readingMm === input.readingMm &&
    (input.at === undefined || Date.parse(payload.deviceTime ?? payload.at) === Date.parse(input.at));
  if (!payload || !isSame)
    throw new AppError(
      "already-recorded-differently",
      `A zero check with the key ${input.id} was recorded before with other content. ${KEPT} Send this one under a key of its own.`,
    );
  const { heldSerials: _held, escapedSerials: _escaped, deviceTime: _time, deviceId: _device, ...answer } = payload;
  const after = payload.since === null ? null : new Date(payload.since);
  const resting = payload.passed
    ? null
    : restingOnGauge(await readRestingInspections(db, plantId, payload.gauge, { after, until: null }));
  return { id: input.id, status: "repeated", ...answer, resting };
}

const NOTHING_CHANGED: JudgedAgain = { judged: 0, held: [], escaped: [], batchesHeld: [] };

type Reassessed = {
  readonly change: JudgedAgain;
  readonly span: FoundOutSpan | null;
  readonly resting: RestingOnGauge | null;
};

const dateOf = (ms: number | null): Date | null => (ms === null ? null : new Date(ms));

/** The parts of an inspection that are in doubt, by the readings of the gauge. */
function partsInDoubt(spans: readonly FoundOutSpan[], { firstAt, lastAt }: RestingInspection) {
  return suspectParts(spans, firstAt.getTime(), lastAt.getTime());
}

/** Judges again what rested on a gauge that nobody had checked before: from the check on it proves something. */
async function judgeFirstChecked(
  db: pg.ClientBase,
  plantId: string,
  { gauge, at, now }: { readonly gauge: string; readonly at: Date; readonly now: Date },
  before: ReferenceData,
): Promise<Reassessed> {
  const until = dateOf(before.gauges.get(gauge)?.firstGoodMs ?? null);
  const inspections = await readRestingInspections(db, plantId, gauge, { after: new Date(at.getTime() - 1), until });
  const reference = await withGaugesAsNow(db, plantId, before);
  const frameIds = [...new Set(inspections.map((one) => one.frameId))];
  const change = await judgeAgain(db, plantId, frameIds, { reference, why: "", mayFree: true, now });
  return { change, span: null, resting: null };
}

/** Judges again what the check put in doubt, or out of it; the spans of the gauge are those before and after the check. */
async function reassess(
  db: pg.ClientBase,
  plantId: string,
  check: { readonly gauge: string; readonly at: Date; readonly passed: boolean; readonly now: Date },
  before: ReferenceData,
): Promise<Reassessed> {
  const { gauge, at, passed, now } = check;
  const after = await withGaugesAsNow(db, plantId, before);
  const spansOf = (reference: ReferenceData) => reference.gauges.get(gauge)?.suspect ?? [];
  const [old, fresh] = [spansOf(before), spansOf(after)];
  const span = suspectSpanAt(passed ? old : fresh, at.getTime()) as FoundOutSpan | null;
  if (span === null) return { change: NOTHING_CHANGED, span: null, resting: null };
  const stretch = { after: dateOf(span.afterMs), until: dateOf(span.untilMs) };
  const inspections = await readRestingInspections(db, plantId, gauge, stretch);
  const changed = inspections.filter((one) => !isDeepStrictEqual(partsInDoubt(old, one), partsInDoubt(fresh, one)));
  const change = await judgeAgain(db, plantId, [...new Set(changed.map((one) => one.frameId))], {
    reference: after,
    why: foundOutText(gauge, span, after.zone),
    mayFree: passed,
    now,
  });
  if (passed) return { change, span: null, resting: null };
  const resting = await readRestingInspections(db, plantId, gauge, stretch);
  return { change, span, resting: restingOnGauge(resting.filter((one) => partsInDoubt([span], one).length > 0)) };
}

/**
 * Records the check of a comparator in its setting ring. Beyond the limit, everything that the gauge measured since its last
 * good check is not proven: frames are judged again and held, shipped ones open an escape where a critical characteristic is
 * no longer proven. The same check sent again changes nothing and gets the same answer.
 *
 * @throws AppError forbidden, not-found, refused (a gauge without a ring), invalid-input, already-recorded-differently
 */
export async function recordZeroCheck(
  viewer: Viewer,
  input: RecordZeroCheck,
  now: Date = new Date(),
): Promise<ZeroCheckRecorded> {
  assertMay(viewer, "line.zero-check");
  const { plantId } = viewer;
  const remembered = await getReferenceData(plantId);
  assertDeviceInUse(input.deviceId, remembered);
  assertTokenDevice(viewer, input.deviceId);
  if (input.deviceId !== undefined) await tieToDevice(viewer, input.deviceId);
  const at = checkedAt(input, remembered, now);
  const personId = checkedBy(viewer, input, remembered, at);
  const answer = await inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, GAUGES_CHAIN);
    const repeated = await findRepeated(db, plantId, input);
    if (repeated) return repeated;
    const found = await findGauge(db, plantId, input);
    const driftUm = driftOf(input, found);
    const { limitUm } = found;
    const passed = Math.abs(driftUm) <= limitUm + DRIFT_ROUNDING_UM;
    const before = await withGaugesAsNow(db, plantId, remembered);
    const wasSuspect = suspectSpanAt(before.gauges.get(input.gauge)?.suspect ?? [], at.getTime()) !== null;
    const isFirst = passed && (before.gauges.get(input.gauge)?.firstGoodMs ?? Infinity) > at.getTime();
    if (!passed || wasSuspect || isFirst) await lockLines(db, plantId);
    const row = {
      plant_id: plantId,
      id: input.id,
      gauge_id: found.gaugeId,
      ring_id: found.ringId,
      at,
      reading_mm: input.readingMm,
      drift_um: driftUm,
      limit_um: limitUm,
      occasion: input.occasion,
      person_id: personId,
    };
    await db.query(sql`
      insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion, person_id)
      values (${plantId}, ${row.id}, ${row.gauge_id}, ${row.ring_id}, ${at}, ${row.reading_mm}, ${driftUm}, ${limitUm},
        ${row.occasion}, ${personId})`);
    const { change, span, resting } =
      !passed || wasSuspect
        ? await reassess(db, plantId, { gauge: input.gauge, at, passed, now }, before)
        : isFirst
          ? await judgeFirstChecked(db, plantId, { gauge: input.gauge, at, now }, before)
          : { change: NOTHING_CHANGED, span: null, resting: null };
    const result = {
      gauge: input.gauge,
      ring: found.ring,
      certifiedMm: found.certifiedMm,
      readingMm: input.readingMm,
      driftUm,
      limitUm,
      passed,
      at: at.toISOString(),
      since: span === null ? null : (dateOf(span.afterMs)?.toISOString() ?? null),
      held: change.held.length,
      escapes: change.escaped.length,
      batchesHeld: change.batchesHeld,
    };
    if (!passed) {
      const payload = {
        gauge: input.gauge,
        driftUm,
        limitUm,
        heldFrames: change.held.length,
        heldBatches: change.batchesHeld.length,
        escapes: change.escaped.length,
      };
      await writeEvents(db, plantId, [{ topic: "gauge.failed", payload }], now);
    }
    await appendToLockedChain(db, head, {
      plantId,
      chain: GAUGES_CHAIN,
      at: now,
      actor: actorOf(viewer),
      action: passed ? "zero-check.passed" : "zero-check.failed",
      subjects: [{ table: "zero_check", id: row.id, hash: rowHash("zero_check", row) }],
      payload: {
        ...result,
        ...(input.at === undefined || Date.parse(input.at) === at.getTime() ? {} : { deviceTime: input.at }),
        ...(input.deviceId === undefined ? {} : { deviceId: input.deviceId }),
        heldSerials: change.held,
        escapedSerials: change.escaped,
      } satisfies Payload,
    });
    return { id: input.id, status: "recorded" as const, ...result, resting };
  });
  forgetReferenceData(plantId);
  return answer;
}
