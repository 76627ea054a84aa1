import "server-only";
import { isDeepStrictEqual } from "node:util";
import type pg from "pg";
import type { DoubtCode } from "@/lib/quality/judging-doubt";
import { actorOf, type Viewer } from "../auth/viewer";
import { readEarlier } from "../evidence/earlier-inspections";
import { getReferenceData, withGaugesAsNow, type ReferenceData } from "../evidence/reference-data";
import { appendJournal, lockChain } from "../journal/append-journal";
import { judgeAgain } from "../evidence/judge-again";
import { lockLines } from "../evidence/lock-lines";
import { readRestingInspections } from "../evidence/resting-frames";
import { GAUGES_CHAIN } from "../evidence/suspect-spans";

/** Doubts that follow from what the register says of a gauge. */
const BY_REGISTER: ReadonlySet<string> = new Set<DoubtCode>([
  "wrong-gauge",
  "gauge-range",
  "never-checked",
  "travel-clipped",
  "blind",
]);

/** What is known of the gauges before one of them is changed; recording waits until the transaction ends. */
export async function gaugesBeforeChange(db: pg.ClientBase, plantId: string): Promise<ReferenceData> {
  await lockChain(db, plantId, GAUGES_CHAIN);
  await lockLines(db, plantId);
  return withGaugesAsNow(db, plantId, await getReferenceData(plantId));
}

/**
 * Judges again what a gauge measured, since its register says otherwise than before what it can show: frames whose readings prove
 * nothing any more are held, with an escape for each that has shipped, others are free again where nothing else is against them.
 * Its entry in the chain of gauges tells a recording under way that something has changed.
 *
 * @param before - from gaugesBeforeChange, in the same transaction
 */
export async function judgeGaugeAgain(
  db: pg.ClientBase,
  viewer: Viewer,
  gauge: string,
  before: ReferenceData,
  now: Date,
): Promise<void> {
  const { plantId } = viewer;
  const reference = await withGaugesAsNow(db, plantId, before);
  const resting = await readRestingInspections(db, plantId, gauge, { after: null, until: null });
  const frames = [...new Set(resting.map(({ frameId }) => frameId))].map((id) => ({ id }));
  const [was, is] = [await readEarlier(db, plantId, frames, before), await readEarlier(db, plantId, frames, reference)];
  const doubtsOf = (of: typeof was, id: string) => (of.get(id) ?? []).map(({ doubts }) => doubts);
  const changed = frames.map(({ id }) => id).filter((id) => !isDeepStrictEqual(doubtsOf(was, id), doubtsOf(is, id)));
  const { judged, held, escaped, batchesHeld } = await judgeAgain(db, plantId, changed, {
    reference,
    why: `gauge ${gauge} is known to show something else than was believed`,
    isWhy: ({ code, reason = "" }) => code !== undefined && BY_REGISTER.has(code) && reason.includes(gauge),
    mayFree: true,
    now,
  });
  await appendJournal(db, {
    plantId,
    chain: GAUGES_CHAIN,
    at: now,
    actor: actorOf(viewer),
    action: "gauge.judged-again",
    subjects: [],
    payload: { gauge, judged, heldSerials: held, escapedSerials: escaped, batchesHeld },
  });
}
