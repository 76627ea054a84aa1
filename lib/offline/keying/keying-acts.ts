import { plugEvidence } from "@/lib/core/metrology/plug-evidence";
import type { BarPassage, PlugFeel, ReadingName } from "@/lib/core/metrology/reading-name";
import { implausibleReading } from "@/lib/core/metrology/reading-plausibility";
import { barBounds, tiltOfBars } from "@/lib/quality/felt-bounds";
import { judgeReading } from "@/lib/quality/judge-reading";
import type { StationPlan } from "@/lib/schemas/station-package";
import type { DeviceCore } from "../device/device-core";
import { finishSession, keepSession, writeKept } from "../device/device-database";
import { finishFrame } from "../verdict/finish-frame";
import { firstOffNow, type OwnFirstOff } from "../device/first-off";
import { withFrameMeasured } from "../device/frame-gauges";
import { keyingPlan } from "../device/keying-plan";
import {
  isComplete,
  keyedValue,
  type KeyingEvent,
  type KeyingPlan,
  type KeyingSession,
  stepKeying,
  sweepWith,
} from "../device/keying-session";
import { type Feedback, ownChecks } from "../device/line-state";
import { isBatchDone, withFrameDone } from "../device/own-work";
import { keepShown } from "../verdict/shown-verdict";

export type PlanInHand = { readonly plan: StationPlan; readonly keying: KeyingPlan };

/** An indicator is set to about zero: while its sweep has no median yet, a known code that is further off is a scan, µm. */
const SWEEP_START_UM = 500;
/** Readings of a sweep from which on its median says what is plausible. */
const SWEEP_MEDIAN_OF = 3;

/** Whether a number would be a plausible value of the reading asked for; null where none is asked. */
export function plausibilityOf(
  session: KeyingSession | null,
  inHand: PlanInHand | null,
): ((value: number) => boolean) | null {
  const index = session?.asked ?? null;
  const name = index === null ? undefined : inHand?.keying.names[index];
  if (session === null || inHand === null || index === null || name === undefined) return null;
  return (value) => {
    const size = keyedValue(inHand.keying, name, value);
    const sweep = sweepWith(inHand.keying.names, session.readings, index, size);
    if (sweep.length > 0 && sweep.length < SWEEP_MEDIAN_OF) return Math.abs(size) <= SWEEP_START_UM;
    return implausibleReading(inHand.keying.drawing, name, size, sweep) === null;
  };
}

/** One act of keying: the write begins before the answer is drawn, and a reading is kept only when it is on the disk. */
export async function keyEvent(core: DeviceCore, inHand: PlanInHand | null, event: KeyingEvent): Promise<void> {
  const { session } = core.getState();
  if (session === null || inHand === null) return;
  const next = stepKeying(inHand.keying, session, event);
  if (next === session) return;
  const written = keepSession(core.database, next);
  core.set({
    session: next,
    keptSession: session,
    notice: null,
    feedback: feedbackOn(core, session, next, inHand.keying),
  });
  try {
    await written;
  } catch (error) {
    core.set({ session });
    throw error;
  } finally {
    core.set({ keptSession: null });
  }
  if (isComplete(next, inHand.keying) && event.type !== "jump" && event.type !== "remark")
    await finishInHand(core, next);
}

function feedbackOn(core: DeviceCore, before: KeyingSession, after: KeyingSession, plan: KeyingPlan): Feedback | null {
  if (after.question !== null || (after.again ?? null) !== null || after.correction !== null || after.refusal !== null)
    return core.asking();
  const index = after.last;
  const reading = index === null ? null : (after.readings[index] ?? null);
  const name = index === null ? undefined : plan.names[index];
  if (index === null || reading === null || name === undefined || reading === before.readings[index])
    return core.getState().feedback;
  if (reading.word !== null) return core.feedback(toneOfWord(plan, name, reading.word));
  if (reading.state === "off-scale-large" || reading.state === "off-scale-small") return core.feedback("out");
  if (reading.value === null) return core.asking();
  const { verdict } = judgeReading(plan.drawing, name, reading.value);
  return core.feedback(verdict === "does not conform" ? "out" : verdict === "not proven" ? "question" : "good");
}

/** A plug or a bar is judged by what it says of the seat against its limits. */
function toneOfWord(plan: KeyingPlan, name: ReadingName, word: PlugFeel | BarPassage): Feedback["tone"] {
  const limitsOf = (of: "bore" | "tilt") => plan.drawing.characteristics.find((one) => one.name === of);
  if (typeof word !== "string") {
    if (word.result !== "no") return word.result === "free" ? "good" : "question";
    const tilt = limitsOf("tilt");
    if (name.kind !== "bar" || tilt === undefined) return "out";
    const bars = barBounds([{ set: name.set, result: word.result }]);
    return tiltOfBars(bars, plan.drawing, tilt).verdict === "does not conform" ? "out" : "question";
  }
  const { lower, upper } = limitsOf("bore") ?? {};
  if (name.kind !== "plug" || typeof lower !== "number" || typeof upper !== "number") return "good";
  const { sizeMm, across } = name;
  const trial = { sizeMm, feel: word, ...(across === true ? { across } : {}) };
  const { findings } = plugEvidence([trial], null, { lowerMm: lower, upperMm: upper });
  return findings.length === 0 ? "good" : "out";
}

/** A crash between the last reading and the verdict: what is complete is finished. */
export async function finishIfComplete(core: DeviceCore, session: KeyingSession): Promise<void> {
  const plan = core.getState().plans[session.planRevisionId];
  if (plan && isComplete(session, keyingPlan(core.getState(), plan))) await finishInHand(core, session);
}

/** The last reading is there: judged, queued and shown. */
async function finishInHand(core: DeviceCore, session: KeyingSession): Promise<void> {
  const { plans, deviceId, kit, gaugeUse } = core.getState();
  const plan = plans[session.planRevisionId];
  if (!plan) return;
  const keying = keyingPlan(core.getState(), plan);
  const now = core.now();
  const finish = { finishedAt: now, clockSkewMs: core.skewNow(), deviceId, inspectorCode: keying.inspector };
  const { entry, shown, holds } = finishFrame(
    session,
    { kit, plan, keying, checks: ownChecks(core.getState()) },
    finish,
  );
  const verdict = entry.deviceVerdict;
  const measured = kit === null ? null : withFrameDone(kit, session.serial, verdict);
  const endsBatch = !isBatchDone(kit, session.batch) && isBatchDone(measured, session.batch);
  const gauges = session.readings.map((reading) => reading?.gauge ?? null);
  const use = withFrameMeasured(gaugeUse, { serial: session.serial, gauges, endsBatch });
  const order = await finishSession(core.database, entry, use);
  if (session.firstOff === true) await noteFirstOff(core, session, verdict, core.serverNow());
  core.set({
    session: null,
    kit: measured,
    gaugeUse: use,
    queue: [...core.getState().queue.filter((one) => one.order !== order), { ...entry, order }],
    finished: shown,
    feedback: core.feedback(holds ? "out" : verdict === "conforms" ? "good" : "question"),
  });
  await keepShown(core, shown);
  core.queued();
}

/** The frame stands for the line, as far as this device knows, until the server says more. */
async function noteFirstOff(
  core: DeviceCore,
  { id, serial, batch }: KeyingSession,
  verdict: OwnFirstOff["verdict"],
  now: number,
): Promise<void> {
  const { kit, ownFirstOff } = core.getState();
  const asked = firstOffNow(kit, ownFirstOff, now);
  if (asked.kind !== "asked") return;
  const measuredAt = new Date(now).toISOString();
  const own = { since: asked.since, inspectionId: id, serial, batch, verdict, measuredAt };
  await writeKept(core.database, "ownFirstOff", own);
  core.set({ ownFirstOff: own });
}
