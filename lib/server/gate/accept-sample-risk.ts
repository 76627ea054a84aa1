import "server-only";
import { AppError } from "@/lib/errors";
import type { ReasonCode } from "@/lib/quality/batch-decision";
import { sampleRiskText } from "@/lib/format/batch-words";
import { unmeasuredBound } from "@/lib/quality/sample-risk";
import type { AcceptSampleRisk } from "@/lib/schemas/decision";
import { assertKeptApart } from "../auth/kept-apart";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import type { Viewer } from "../auth/viewer";
import { inspectionColumns } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { isRepeated, lockBatch, recordDecision } from "./commands";
import { readBatchEvidence } from "./read-batch-evidence";
import { readSampledCapability } from "./sampled-capability";

const UNCHANGED = "Nothing was changed.";
const sampled = inspectionColumns("i", ["id"]);

const OF_SAMPLE: readonly ReasonCode[] = ["sample-failed", "capability-bound", "capability-unknown"];

/**
 * Takes the risk of the frames that nobody measured of a sampled batch in which measured ones did not conform, or whose streams are
 * not shown to be as good as the drawing asks: signed with the password, with the numbers. It opens no batch by itself; a frame
 * that is found later asks for another decision.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, conflict (a stale page), refused (nothing holds the unmeasured frames, the sample is not measured,
 *   or the signer had a hand in the inspections that found what failed; where none did, in any inspection of the batch)
 */
export async function acceptSampleRisk(viewer: Viewer, input: AcceptSampleRisk, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "gate.concede");
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  const capability = await readSampledCapability(plantId, input.batchId);
  await inSqlTransaction(async (db) => {
    const { id, batchId, grounds } = input;
    const kind = "accept_sample_risk" as const;
    await db.query(sql`select 1 from batch where plant_id = ${plantId} and id = ${batchId} for update`);
    if (await isRepeated(db, plantId, { id, kind, batchId, grounds, serials: [] })) return;
    const key = await lockBatch(db, plantId, batchId, input.batchVersion);
    const batch = await readBatchEvidence(db, plantId, batchId, capability);
    const sample = batch?.circumstances.sample;
    const against = (batch?.decision.reasons ?? []).filter(({ code }) => OF_SAMPLE.includes(code));
    const hasRisk = sample !== undefined && sample.unmeasured > 0 && (sample.found.length > 0 || against.length > 0);
    if (hasRisk && sample.found.length === 0 && batch?.evidence.notMeasured.length !== 0)
      throw new AppError("refused", `The sample of batch ${key} is not measured yet: measure it first. ${UNCHANGED}`);
    if (!hasRisk)
      throw new AppError("refused", `Batch ${key} has no unmeasured frames at risk by its sample. ${UNCHANGED}`);
    const { rows } = await db.query<RowOf<typeof sampled>>(sql`
      select ${sampled} from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where i.plant_id = ${plantId} and i.batch_id = ${batchId} and (f.serial = any(${sample.found})
        or ${sample.found.length === 0} and not exists (select 1 from inspection_withdrawal w
          where w.plant_id = i.plant_id and w.inspection_id = i.id))`);
    const ids = rows.map((row) => row.id);
    await assertKeptApart(db, signer, ids, { act: "sign for the rest of the batch" });
    const bound = unmeasuredBound(sample);
    const evidence = {
      batch: key,
      frames: sample.frames,
      measured: sample.measured,
      found: sample.found,
      unmeasured: sample.unmeasured,
      mostNonconforming: bound,
      confidence: 0.95,
      risk: sampleRiskText({ ...sample, bound }),
      capability: against.map(({ text }) => text),
    };
    await db.query(sql`update batch set version = version + 1 where plant_id = ${plantId} and id = ${batchId}`);
    const draft = { id, kind, batchId, frameIds: [], grounds, evidence, expiresAt: null };
    await recordDecision(db, signer, draft, "batch.sample-risk-taken", { batch: key, found: sample.found }, now);
  });
}
