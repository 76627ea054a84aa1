import { formatDeviationUm, formatFixed } from "@/lib/format/number-text";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationGauge } from "@/lib/schemas/station-package";
import type { DeviceCore } from "../device/device-core";
import { isCheck, keepCheck, listOutbox, writeKept } from "../device/device-database";
import { inspectorCodeOf } from "../device/keying-plan";
import { type DeviceSettings, planOfBatch, type StartRequest, type ZeroEntry } from "../device/line-state";
import { freeFrame } from "../queue/free-frames";
import { doubtfulGauges, dueZeroChecks, GAUGE_KINDS, gaugeDoubtText, gaugesAtHand } from "../device/station-gauges";
import type { Seen } from "../device/typed-ahead";
import {
  comparatorOf,
  type DeviceZeroCheck,
  gaugeAfterCheck,
  judgeZeroCheck,
  keyedZero,
  UNUSED,
  withChecks,
} from "../device/zero-check";

/** Asks for a zero check; a scan may wait behind it. */
export function askZeroCheck(
  core: DeviceCore,
  { gauge, occasion, why }: Pick<ZeroEntry, "gauge" | "occasion" | "why">,
  then: StartRequest | null,
): void {
  const zero = { gauge, occasion, why, then, question: null, refusal: null, failed: null };
  core.set({ zero, pending: null, notice: null, feedback: core.asking() });
}

/** Asks for the zero check of a gauge: because it is due, was knocked, or somebody wants it. */
export async function wantZeroCheck(core: DeviceCore, key: string, knocked: boolean): Promise<void> {
  const { kit, settings, gaugeUse } = core.getState();
  if (comparatorOf(kit?.gauges.find((one) => one.key === key)) === null) return;
  if (knocked) {
    const use = { ...gaugeUse, [key]: { ...(gaugeUse[key] ?? UNUSED), knocked: true } };
    await writeKept(core.database, "gaugeUse", use);
    core.set({ gaugeUse: use });
  }
  const plan = settings.batch === null ? null : planOfBatch(kit, settings.batch);
  const need = dueZeroChecks(kit, settings, core.getState().gaugeUse, plan, core.serverNow()).find(
    (one) => one.gauge === key,
  );
  askZeroCheck(core, { gauge: key, occasion: need?.occasion ?? "other", why: need?.why ?? null }, null);
}

function comparatorInHand(core: DeviceCore): { readonly zero: ZeroEntry; readonly gauge: StationGauge } | null {
  const { zero, kit } = core.getState();
  const gauge = kit?.gauges.find((one) => one.key === zero?.gauge);
  return zero === null || gauge === undefined ? null : { zero, gauge };
}

/**
 * What was keyed at the zero check; gives the scan that waits behind it once it passed. What was typed before its gauge was asked
 * for is not taken: a reading must not pass for what the gauge shows in its ring.
 */
export async function enterZeroCheck(core: DeviceCore, text: string, seen: Seen): Promise<StartRequest | null> {
  const inHand = comparatorInHand(core);
  const comparator = comparatorOf(inHand?.gauge);
  if (inHand === null || comparator === null) return null;
  const { zero, gauge } = inHand;
  if (seen !== `zero ${gauge.key}`) {
    const refusal = `“${text.trim()}” was typed before this check was shown: it is not taken. Key what ${gauge.key} shows in its ring.`;
    core.set({ zero: { ...zero, question: null, refusal }, feedback: core.asking() });
    return null;
  }
  const { boreEntry, smallUnit, decimal } = core.getState().settings;
  if (text.trim() === "") {
    return zero.question === null ? null : keepZeroCheck(core, zero.question);
  }
  const entry = gauge.kind === "bore" && boreEntry === "deviation" ? smallUnit : "size";
  const keyed = keyedZero(text, comparator, entry, decimal);
  if (keyed.kind === "reading") return keepZeroCheck(core, keyed.readingMm);
  const asked =
    keyed.kind === "question"
      ? { question: keyed.readingMm, refusal: null }
      : { question: null, refusal: keyed.message };
  core.set({ zero: { ...zero, ...asked }, feedback: core.asking() });
  return null;
}

/** Judges the check, keeps it in the queue and acts on it: a failed one takes the gauge off the station's offer. */
async function keepZeroCheck(core: DeviceCore, readingMm: number): Promise<StartRequest | null> {
  const inHand = comparatorInHand(core);
  const comparator = comparatorOf(inHand?.gauge);
  if (inHand === null || comparator === null) return null;
  const { zero, gauge } = inHand;
  const { gaugeUse, deviceId, session } = core.getState();
  const now = core.now();
  const of = gaugeUse[gauge.key] ?? UNUSED;
  // The frame in hand counts, too, once the gauge took a reading of it.
  const isInHand = session?.readings.some((reading) => reading?.gauge === gauge.key) ?? false;
  const serials = isInHand && session ? [...of.serials, session.serial] : of.serials;
  const check = judgeZeroCheck(
    comparator,
    readingMm,
    gauge,
    { ...of, serials },
    {
      id: uuidV7(now),
      occasion: zero.occasion,
      deviceAt: now,
      skewMs: core.skewNow(),
      deviceId,
      inspectorCode: inspectorCodeOf(core.getState()),
    },
  );
  const use = { ...gaugeUse, [gauge.key]: gaugeAfterCheck(of, check.passed) };
  await keepCheck(core.database, { check, queuedAt: now, state: "waiting", refusal: null }, use);
  const { kit } = core.getState();
  core.set({
    gaugeUse: use,
    kit: kit === null ? null : withChecks(kit, [check]),
    checks: (await listOutbox(core.database)).filter(isCheck),
    zero: check.passed ? null : { ...zero, question: null, refusal: null, failed: check },
    feedback: core.feedback(check.passed ? "good" : "out"),
    ...(check.passed
      ? { notice: { tone: "done" as const, text: passedText(check, core.getState().settings.decimal) } }
      : {}),
  });
  core.queued();
  return check.passed ? zero.then : null;
}

/** Leaves the zero check; gives the scan that waits behind it, which goes on without. */
export async function leaveZeroCheck(core: DeviceCore): Promise<StartRequest | null> {
  const { zero } = core.getState();
  core.set({ zero: null });
  if (zero === null) return null;
  // What the failed check says of the gauge was read: it is not asked about again.
  if (zero.failed !== null) await acceptDoubts(core);
  if (zero.then === null && zero.failed !== null) askInsteadOf(core, zero.gauge);
  if (zero.then === null) return null;
  const { then, gauge } = zero;
  return { ...then, agreed: [...then.agreed, `zero check ${gauge}`] };
}

/** The gauge that takes the place of a failed one has to be in order itself: where its check is due, it comes now. */
function askInsteadOf(core: DeviceCore, failed: string): void {
  const { kit, settings } = core.getState();
  const kind = kit?.gauges.find(({ key }) => key === failed)?.kind;
  const next = kind === undefined ? undefined : gaugesAtHand(kit, settings)[kind];
  if (next !== undefined && next !== failed) askIfDue(core, next);
}

function askIfDue(core: DeviceCore, key: string): void {
  const { kit, settings, gaugeUse } = core.getState();
  const plan = settings.batch === null ? null : planOfBatch(kit, settings.batch);
  const due = dueZeroChecks(kit, settings, gaugeUse, plan, core.serverNow()).find(({ gauge }) => gauge === key);
  if (due !== undefined) askZeroCheck(core, due, null);
}

async function acceptDoubts(core: DeviceCore): Promise<void> {
  const doubtful = doubtfulGauges(core.getState(), core.serverNow(), new Set(GAUGE_KINDS)).map(({ key, doubt }) => [
    key,
    doubt,
  ]);
  if (doubtful.length === 0) return;
  const accepted = { ...core.getState().acceptedGauges, ...(Object.fromEntries(doubtful) as Record<string, string>) };
  await writeKept(core.database, "acceptedGauges", accepted);
  core.set({ acceptedGauges: accepted });
}

/** Leaves the zero check and the scan that waits behind it. */
export async function dropZeroCheck(core: DeviceCore): Promise<void> {
  const { zero, aside } = core.getState();
  core.set({ zero: null });
  const serial = zero?.then?.serial;
  // A frame that was put aside stays this device's.
  if (serial !== undefined && !aside.some((one) => one.serial === serial)) await freeFrame(core, serial);
}

/** Takes another gauge for its kind of reading from here on; what was measured keeps its own. */
export async function takeGauge(core: DeviceCore, key: string): Promise<void> {
  const { settings, kit, acceptedGauges } = core.getState();
  const gauge = kit?.gauges.find((one) => one.key === key);
  if (!gauge) return;
  const next = { ...settings, gauges: { ...settings.gauges, [gauge.kind]: key } };
  const doubt = gaugeDoubtText(gauge, core.serverNow(), { decimal: settings.decimal, zone: kit?.zone });
  const accepted = doubt === null ? acceptedGauges : { ...acceptedGauges, [key]: doubt };
  await writeKept(core.database, "settings", next);
  await writeKept(core.database, "acceptedGauges", accepted);
  core.set({ settings: next, acceptedGauges: accepted });
  askIfDue(core, key);
}

/** A passed check in one sentence. */
function passedText({ gauge, ring, driftUm, limitUm }: DeviceZeroCheck, decimal: DeviceSettings["decimal"]): string {
  const limit = formatFixed(limitUm, Number.isInteger(limitUm) ? 0 : 1, decimal);
  return `Zero check of ${gauge} in ${ring}: ${formatDeviationUm(driftUm, 1, decimal)}, within ±${limit}\u00a0µm.`;
}
