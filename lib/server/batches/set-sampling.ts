import "server-only";
import { AppError } from "@/lib/errors";
import { SWITCHING_START, type SwitchingState } from "@/lib/core/sampling/switching";
import { schemeText } from "@/lib/format/lot-words";
import { type LotScheme, switchingStart } from "@/lib/quality/lot-plan";
import type { SetSampling } from "@/lib/schemas/sampling-scheme";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import { actorOf, type Viewer } from "../auth/viewer";
import { samplingSchemeColumns } from "../db/columns/sampling-scheme";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";
import { SAMPLES_CHAIN } from "../line/draw-sample";
import { idInUse } from "../plant/change-setup";
import { findScheme, judgeLots, readStanding, type SchemeInForce } from "./sample-batch";
import { BATCHES_WORDS } from "./words";

const words = BATCHES_WORDS.setSampling;
const repeated = samplingSchemeColumns("s", ["version", "reason"]);

/** The same plan goes on where it stands; after its end sampling begins again tightened. */
function stateOfNew(scheme: LotScheme, before: SchemeInForce | null, stands: SwitchingState | null) {
  const start = switchingStart(scheme);
  if (start === null || before === null || stands === null) return start;
  if (stands.isDiscontinued) return { ...SWITCHING_START, severity: "tightened" as const };
  const { scheme: old } = before;
  const isSame = "aql" in old && "aql" in scheme && old.kind === scheme.kind && old.aql === scheme.aql;
  return isSame && old.level === scheme.level ? stands : start;
}

/**
 * Sets how batches of a supplier and model are sampled that are opened from now on; signed with the password, each version stays. Batches that are
 * open keep the plan that they were given with their list.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, refused (out of use), conflict (another version was set meanwhile)
 */
export async function setSampling(
  viewer: Viewer,
  input: SetSampling,
  now: Date = new Date(),
): Promise<{ readonly version: number }> {
  assertMay(viewer, "gate.set-sampling");
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  return inSqlTransaction(async (db) => {
    const supplierId = await idInUse(db, plantId, "supplier", { key: input.supplier, field: "supplier" });
    const modelId = await idInUse(db, plantId, "frame_model", { key: input.model, field: "model" });
    const locked = await lockChain(db, plantId, SAMPLES_CHAIN);
    const { rows } = await db.query<RowOf<typeof repeated>>(sql`
      select ${repeated} from sampling_scheme s where s.plant_id = ${plantId} and s.id = ${input.id}`);
    if (rows[0] !== undefined) return { version: rows[0].version };
    const before = await findScheme(db, plantId, { supplierId, modelId });
    if ((before?.version ?? 0) !== input.version)
      throw new AppError("conflict", words.wasSetMeanwhile(input.supplier, input.model));
    // Batches that are measured by now count for the version that they were given.
    const head = before === null ? locked : (await judgeLots(db, locked, viewer, before, now)).head;
    const standing = before === null ? null : await readStanding(db, plantId, before);
    const state = stateOfNew(input.scheme, before, standing?.state ?? null);
    const version = input.version + 1;
    await db.query(sql`
      insert into sampling_scheme (plant_id, id, supplier_id, model_id, version, scheme, state, reason, person_id, created_at)
      values (${plantId}, ${input.id}, ${supplierId}, ${modelId}, ${version}, ${canonicalJson(input.scheme)}::jsonb,
        ${state === null ? null : canonicalJson(state)}::jsonb, ${input.grounds}, ${signer.personId}, ${now})`);
    await appendToLockedChain(db, head, {
      plantId,
      chain: SAMPLES_CHAIN,
      at: now,
      actor: actorOf(signer),
      action: "sampling.set",
      subjects: await subjectsOf(db, plantId, "sampling_scheme", [input.id]),
      payload: {
        supplier: input.supplier,
        model: input.model,
        version,
        scheme: schemeText(input.scheme),
        reason: input.grounds,
        signedBy: signer.name,
      },
    });
    return { version };
  });
}
