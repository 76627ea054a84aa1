import "server-only";
import { APPROVABLE_FRAMES } from "@/lib/quality/control-limits";
import { isState, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import { gatePolicyFrom } from "@/lib/quality/gate-policy";
import { CAPABILITY_NOT_ASKED, capabilityText } from "@/lib/format/batch-words";
import { capabilityStops, type CapabilityFinding } from "@/lib/quality/sampled-capability";
import { CAPABILITY_FRAMES, type StreamBound } from "@/lib/quality/stream-capability";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns } from "../db/columns/inspection";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { operationColumns } from "../db/columns/operation";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { readStreamBounds, type BoundComputation } from "../drift/stream-bounds";
import { forgetReferenceData, getReferenceData } from "../evidence/reference-data";

/** Longest that an answer waits for the bounds; the calculation goes on and the next who asks has it. */
const WAIT_MS = 4000;

/** What the streams of a sampled batch say, read and computed before the transaction that decides. */
export type SampledCapability = {
  /** Revision of the plan for whose characteristics it was asked. */
  readonly planRevisionId: string;
  readonly findings: readonly CapabilityFinding[];
};

const headColumns = together(
  measuringPlanRevisionColumns("r", { planRevisionId: "id" }),
  batchColumns("b", ["policy"]),
);
type Head = RowOf<typeof headColumns>;
const groupColumns = together(
  inspectionColumns("i", ["lineId", "operationId", "drawingId"]),
  operationColumns("o", { operation: "name" }),
);
type Group = RowOf<typeof groupColumns>;
const unmeasured = frameColumns("frame", ["batchId", "state"]);

async function readHead(plantId: string, batchId: string): Promise<Head | null> {
  const { rows } = await getPool().query<Head>(sql`
    select ${headColumns} from batch b
    cross join lateral (select p.id, p.frames from measuring_plan_revision p where p.plant_id = b.plant_id
      and p.plan_id = b.plan_id and p.state = 'released' order by p.released_at desc limit 1) r
    left join batch_sample s on s.plant_id = b.plant_id and s.batch_id = b.id
    where b.plant_id = ${plantId} and b.id = ${batchId} and coalesce(s.frames, r.frames) ->> 'kind' <> 'all'
      and exists (select 1 from frame f where f.plant_id = b.plant_id and f.batch_id = b.id
        and f.state = any(${UNMEASURED_STATES}::"FrameState"[]))`);
  return rows[0] ?? null;
}

/** The streams in which the measured frames of a batch stand. */
async function readGroups(plantId: string, batchId: string): Promise<Group[]> {
  const { rows } = await getPool().query<Group>(sql`
    select distinct ${groupColumns}
    from frame f
    join inspection i on i.plant_id = f.plant_id and i.id = f.last_inspection_id
    join operation o on o.plant_id = i.plant_id and o.id = i.operation_id
    where f.plant_id = ${plantId} and f.batch_id = ${batchId}
    order by o.name, i.line_id, i.drawing_id`);
  return rows;
}

async function planOf(plantId: string, id: string) {
  const plan = (await getReferenceData(plantId)).plans.get(id);
  if (plan !== undefined) return plan;
  forgetReferenceData(plantId);
  return (await getReferenceData(plantId)).plans.get(id);
}

/** Streams of a plant by plan revision, group and number of frames. */
export type StreamsRead = Map<string, Promise<readonly BoundComputation[]>>;

type Asked = Omit<CapabilityFinding, "bound"> & { readonly compute: () => Promise<StreamBound | null> };

/** Computes one after the other, so that no scan fills the queue of the computing thread; what is late is told as that. */
async function answered(asked: readonly Asked[], waitMs: number): Promise<CapabilityFinding[]> {
  const bounds: (StreamBound | null)[] = asked.map(() => null);
  const work = async () => {
    for (const [place, { compute }] of asked.entries()) bounds[place] = await compute();
  };
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, waitMs);
  });
  await Promise.race([work(), late]);
  clearTimeout(timer);
  return asked.map(({ compute: _compute, ...finding }, place) => ({
    ...finding,
    bound: bounds[place] ?? "being computed",
  }));
}

/**
 * What the streams of a sampled batch say about its frames that nobody measured, for each critical characteristic that its plan
 * judges. Never inside a transaction: it computes.
 *
 * @param waitMs - 0: only what is known already
 * @param read - streams that one answer about many batches has read so far: most batches of a line stand in the same ones
 * @returns null where the batch is measured whole, or its policy leaves capability out
 */
export async function readSampledCapability(
  plantId: string,
  batchId: string,
  waitMs: number = WAIT_MS,
  read: StreamsRead = new Map(),
): Promise<SampledCapability | null> {
  const head = await readHead(plantId, batchId);
  if (head === null) return null;
  const { planRevisionId, policy } = head;
  const { capabilityBound, capabilityFrames } = gatePolicyFrom(policy);
  const plan = await planOf(plantId, planRevisionId);
  if (plan === undefined || capabilityBound === "ignore") return null;
  const { drawing, compiled } = plan;
  const limit = drawing.nonconformingFractionLimit;
  const subjects = compiled.covered.flatMap(({ name, seat }) =>
    drawing.characteristics.some((one) => one.name === name && one.critical) ? [{ name, seat }] : [],
  );
  const groups = await readGroups(plantId, batchId);
  if (groups.length === 0) {
    const bound: StreamBound = { ok: false, because: { code: "no-frame-measured" } };
    const findings = subjects.map(({ name, seat }) => ({ characteristic: name, seat, limit, operation: null, bound }));
    return { planRevisionId, findings };
  }
  const most = Math.min(CAPABILITY_FRAMES, Math.max(APPROVABLE_FRAMES, capabilityFrames));
  const asked = await Promise.all(
    groups.map(async ({ operation, ...group }) => {
      const key = JSON.stringify([planRevisionId, group, most]);
      const reading = read.get(key) ?? readStreamBounds(plantId, group, drawing, { subjects, most });
      read.set(key, reading);
      const bounds = await reading;
      return subjects.flatMap(({ name, seat }, place): Asked[] => {
        const compute = bounds[place];
        return compute === undefined
          ? []
          : [{ characteristic: name, seat, limit, operation: groups.length > 1 ? operation : null, compute }];
      });
    }),
  );
  return { planRevisionId, findings: await answered(asked.flat(), waitMs) };
}

/** The same for the batch of one frame; null where the frame was measured, is not known, or its batch is not sampled. */
export async function readCapabilityFor(plantId: string, serial: string): Promise<SampledCapability | null> {
  const { rows } = await getPool().query<RowOf<typeof unmeasured>>(sql`
    select ${unmeasured} from frame where plant_id = ${plantId} and serial = ${serial}`);
  const frame = rows[0];
  if (frame === undefined || !isState(frame.state, UNMEASURED_STATES)) return null;
  return readSampledCapability(plantId, frame.batchId);
}

/**
 * Why the unmeasured frames of a batch have to wait, in words; [] where nothing of it holds them.
 *
 * @param planRevisionId - revision of the batch's plan as it is in the transaction that decides
 */
export function capabilityAgainst(
  capability: SampledCapability | null,
  { policy, planRevisionId }: { readonly policy: unknown; readonly planRevisionId: string | null },
): readonly string[] {
  if (gatePolicyFrom(policy).capabilityBound !== "hold") return [];
  // A frame that became unmeasured, or a plan that was released, since it was asked.
  if (capability === null || capability.planRevisionId !== planRevisionId) return [CAPABILITY_NOT_ASKED];
  return capability.findings.filter(capabilityStops).map(capabilityText);
}
