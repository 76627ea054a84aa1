import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationPlan } from "@/lib/schemas/station-package";
import type { DeviceCore } from "../device/device-core";
import {
  dropSession,
  keepPhoto,
  keepSession,
  listPhotos,
  listSent,
  markSeen,
  readKept,
  writeKept,
} from "../device/device-database";
import { type FirstOffNow, firstOffNow, firstOffPlan } from "../device/first-off";
import { readingNamesOf } from "../device/keying-plan";
import { type KeyingSession, startKeying } from "../device/keying-session";
import { findFrame, type LineState, planOfBatch, type StartRequest } from "../device/line-state";
import { freeFrame } from "../queue/free-frames";
import { fetchStationKit, leaseFrame } from "../device/server-calls";
import { keepShown } from "../verdict/shown-verdict";
import { chooseBatch, refreshKit, takeKit } from "./station-acts";
import { doubtfulGauges, dueZeroChecks } from "../device/station-gauges";
import { askZeroCheck } from "../zero-check/zero-check-acts";

/** A scanned frame that this station can measure. */
type FrameToStart = {
  readonly serial: string;
  readonly batch: string;
  readonly plan: StationPlan;
  readonly inspections: number;
  /** The plan asks for it. */
  readonly planned: boolean;
  /** Key of its line, where that is not the station's. */
  readonly otherLine: string | null;
  /** Another device had it in hand when this one last heard of it; null where the server was asked just now. */
  readonly elsewhere: string | null;
};

/** Starts measuring a scanned frame, or asks what has to be said before. */
export async function startFrame(core: DeviceCore, request: StartRequest): Promise<void> {
  const { serial, agreed } = request;
  const { session, stationClosed } = core.getState();
  if (session?.serial === serial) {
    core.set({ notice: { tone: "caution", text: `Frame ${serial} is the one in hand. Key its reading.` } });
    return;
  }
  if (stationClosed !== null) {
    core.set({ pending: null, notice: { tone: "error", text: stationClosed }, feedback: core.asking() });
    return;
  }
  const waitingHere = core.getState().aside.find((one) => one.serial === serial);
  if (session !== null && !agreed.includes("unfinished")) {
    const batch = findFrame(core.getState().kit, serial)?.batch ?? "";
    core.set({ pending: { ...request, batch, why: "unfinished" }, feedback: core.asking() });
    return;
  }
  if (waitingHere) return goOnWith(core, waitingHere, request);
  const found = await findToStart(core, serial);
  if (found === null || asksBefore(core, request, found)) return;
  const { batch, plan, planned, elsewhere, otherLine } = found;
  // A frame of another line does not stand for this one.
  const firstOff = otherLine === null && firstOffOf(core).kind === "asked";
  const asked = firstOff ? firstOffPlan(core.getState().kit, plan) : plan;
  const started = startKeying(
    {
      id: uuidV7(core.now()),
      serial,
      batch,
      stationId: core.getState().settings.stationId ?? "",
      planRevisionId: asked.planRevisionId,
      startedAt: core.now(),
      reason: request.reason,
      ...(planned ? {} : { outsidePlan: true as const }),
      ...(firstOff ? { firstOff: true as const } : {}),
      ...(otherLine === null ? {} : { otherLine }),
      ...(request.beforeRelease === undefined ? {} : { beforeRelease: request.beforeRelease }),
    },
    { names: readingNamesOf(asked) ?? [] },
  );
  await takeInHand(core, started);
  if (otherLine === null && core.getState().settings.batch !== batch) await chooseBatch(core, batch);
  if (elsewhere === null) return saySignedOut(core);
  const text = `Frame ${serial} was in hand on ${elsewhere} when this device last heard of it, and the server does not answer. Measured on both, it waits for a person to decide.`;
  core.set({ notice: { tone: "caution", text }, feedback: core.asking() });
}

/** Whoever signed out may be gone: under whose name readings go is said before the first one. */
function saySignedOut(core: DeviceCore): void {
  const { network, inspector, kit, notice } = core.getState();
  if (network !== "signed out" || inspector !== null || !kit?.viewer || notice !== null) return;
  const text = `Signed out: readings go under ${kit.viewer.name} until a badge is scanned or somebody signs in.`;
  core.set({ notice: { tone: "caution", text } });
}

/** Leases the frame, and finds its batch and plan, on the device or with the server; null where it cannot be measured here. */
async function findToStart(core: DeviceCore, serial: string): Promise<FrameToStart | null> {
  const { settings, deviceId } = core.getState();
  let known = findFrame(core.getState().kit, serial);
  const at = settings.stationId === null ? {} : { stationId: settings.stationId };
  const lease = await leaseFrame(core.fetch, { serial, deviceId, ...at });
  if (lease.kind === "refused") {
    core.noteNetwork("there");
    const isUnknown = lease.code === "not-found" && known === null;
    const text = isUnknown ? `${lease.message} No batch or badge of this station reads so either.` : lease.message;
    core.set({ pending: null, notice: { tone: "error", text }, feedback: core.asking() });
    return null;
  }
  core.noteNetwork(lease.kind === "ok" ? "there" : lease.kind);
  if (lease.kind !== "ok" && known?.frame.state === "shipped") {
    const text = `Frame ${serial} shipped already, as this device last heard. If it is in your hands, call the engineer.`;
    core.set({ pending: null, notice: { tone: "error", text }, feedback: core.asking() });
    return null;
  }
  if (known === null && lease.kind === "ok") {
    // Not among the frames on this device: a newer batch, or one of another time.
    const answer = settings.stationId === null ? null : await fetchStationKit(core.fetch, settings.stationId);
    if (answer?.kind === "ok") await takeKit(core, answer.value);
    known = findFrame(core.getState().kit, serial);
  }
  const batch = known?.batch ?? (lease.kind === "ok" ? lease.value.batch : null);
  const other = lease.kind === "ok" ? (lease.value.otherLine ?? null) : null;
  const plan = batch === null ? null : (other?.plan ?? planOfBatch(core.getState().kit, batch));
  if (other?.plan) await keepPlan(core, other.plan);
  if (batch !== null && plan !== null && readingNamesOf(plan) !== null) {
    const leased = lease.kind === "ok" ? lease.value.inspections : 0;
    const inspections = Math.max(known?.frame.inspections ?? 0, leased);
    const holder = lease.kind === "ok" ? null : (known?.frame.leaseDeviceId ?? null);
    const elsewhere = holder === null || holder === deviceId ? null : deviceName(core, holder);
    const planned = known?.frame.planned !== false;
    return { serial, batch, plan, inspections, planned, elsewhere, otherLine: other?.line ?? null };
  }
  const text =
    batch === null
      ? `No frame ${serial} is known on this device, and the server does not answer. Scan it again. If it is of another line, put it aside: its plan is not on this device, and whether it may be measured here is asked once the network is back.`
      : other !== null
        ? `Frame ${serial} belongs to line ${other.line}, and its batch ${batch} has no measuring plan that can be keyed here. Put it aside; it is measured at its own line.`
        : `Frame ${serial} is of batch ${batch}, for which this station has no measuring plan. Measure it at its own line.`;
  core.set({ pending: null, feedback: core.asking(), notice: { tone: "error", text } });
  if (lease.kind === "ok") void freeFrame(core, serial);
  return null;
}

/** Keeps the plan of another line's frame on the device, so that it can be gone on with. */
async function keepPlan(core: DeviceCore, plan: StationPlan): Promise<void> {
  const plans = { ...core.getState().plans, [plan.planRevisionId]: plan };
  await writeKept(core.database, "plans", plans);
  core.set({ plans });
}

/** What people call another device, where this one has heard it. */
function deviceName(core: DeviceCore, id: string): string {
  const devices = (core.getState().kit?.batches ?? []).flatMap((batch) => batch.devices ?? []);
  return devices.find((one) => one.id === id)?.name ?? id;
}

/** Asks what has to be said before the frame is started: one question at a time. True where something is asked. */
function asksBefore(core: DeviceCore, request: StartRequest, found: FrameToStart): boolean {
  const { batch, plan, inspections, otherLine } = found;
  const { settings, kit, gaugeUse } = core.getState();
  const { agreed, reason } = request;
  const ask = (pending: Omit<NonNullable<LineState["pending"]>, keyof StartRequest | "batch">): true => {
    core.set({ pending: { ...request, ...pending, batch }, feedback: core.asking() });
    return true;
  };
  if (otherLine !== null && !agreed.includes("other line")) return ask({ why: "other line", line: otherLine });
  if (otherLine === null && settings.batch !== null && settings.batch !== batch && !agreed.includes("other batch"))
    return ask({ why: "other batch" });
  if (inspections > 0 && reason === null) return ask({ why: "measured before" });
  const line = firstOffOf(core);
  if (otherLine === null && line.kind === "waits" && inspections === 0 && !agreed.includes("first-off"))
    return ask({ why: "first-off" });
  const kinds = new Set<string>((readingNamesOf(plan) ?? []).map(({ kind }) => kind));
  const due = dueZeroChecks(kit, settings, gaugeUse, plan, core.serverNow(), kinds).find(
    ({ gauge }) => !agreed.includes(`zero check ${gauge}`),
  );
  if (due !== undefined) {
    askZeroCheck(core, due, request);
    return true;
  }
  const doubtful = doubtfulGauges(core.getState(), core.serverNow(), kinds).find(
    ({ key }) => !agreed.includes(`gauge ${key}`),
  );
  return doubtful === undefined ? false : ask({ why: "gauge", gauge: doubtful });
}

/** How the line stands with its first-off, as far as this device knows. */
export function firstOffOf(core: DeviceCore): FirstOffNow {
  const { kit, ownFirstOff } = core.getState();
  return firstOffNow(kit, ownFirstOff, core.serverNow());
}

/** Goes on with a frame that was put aside: a gauge that it still needs is shown its ring first, where that fell due meanwhile. */
export async function goOnWith(core: DeviceCore, session: KeyingSession, request?: StartRequest): Promise<void> {
  const { kit, settings, gaugeUse, plans } = core.getState();
  const then = request ?? { serial: session.serial, reason: null, agreed: [] };
  const plan = plans[session.planRevisionId];
  const names = (plan && readingNamesOf(plan)) ?? [];
  const open = new Set<string>(names.filter((_, place) => !session.readings[place]).map(({ kind }) => kind));
  const due = dueZeroChecks(kit, settings, gaugeUse, plan ?? null, core.serverNow(), open).find(
    ({ gauge }) => !then.agreed.includes(`zero check ${gauge}`),
  );
  if (due === undefined) await takeInHand(core, session);
  else askZeroCheck(core, due, then);
}

/** Takes a frame in hand; the one before stays on the device as it is. */
export async function takeInHand(core: DeviceCore, session: KeyingSession): Promise<void> {
  if (core.getState().plans[session.planRevisionId] === undefined) {
    const text = `The plan by which frame ${session.serial} was begun is not on this device: go on with it where it was begun, or load a newer file of that device.`;
    core.set({ pending: null, notice: { tone: "error", text }, feedback: core.asking() });
    return;
  }
  await keepSession(core.database, session);
  await writeKept(core.database, "current", session.id);
  await noteSeen(core);
  if (core.getState().finished !== null) await keepShown(core, null);
  const before = core.getState().session;
  core.set({
    session,
    aside: [...core.getState().aside, ...(before === null ? [] : [before])].filter((one) => one.id !== session.id),
    finished: null,
    pending: null,
    notice: null,
  });
}

/** Answers what stands before starting a frame; the reason says why it is measured again, or before a release. */
export async function agreeToStart(core: DeviceCore, reason: string | null): Promise<void> {
  const { pending, acceptedGauges } = core.getState();
  if (pending === null) return;
  const { serial, why, gauge, beforeRelease } = pending;
  const said = reason?.trim().slice(0, 500) || null;
  core.set({ pending: null });
  if (gauge !== undefined) {
    const accepted = { ...acceptedGauges, [gauge.key]: gauge.doubt };
    await writeKept(core.database, "acceptedGauges", accepted);
    core.set({ acceptedGauges: accepted });
  }
  const early = why === "first-off" && said !== null ? said : beforeRelease;
  await startFrame(core, {
    serial,
    reason: why === "measured before" ? (said ?? pending.reason) : pending.reason,
    agreed: [...pending.agreed, gauge === undefined ? why : `gauge ${gauge.key}`],
    ...(early === undefined ? {} : { beforeRelease: early }),
  });
}

/** Looks again whether the line was released, and goes on with the scan where it was. */
export async function lookAgain(core: DeviceCore): Promise<void> {
  const { pending } = core.getState();
  if (pending === null) return;
  await refreshKit(core);
  const { network } = core.getState();
  await core.act(async () => {
    if (core.getState().pending !== pending) return;
    if (firstOffOf(core).kind === "waits") {
      const text =
        network === "there"
          ? "The server says that the line is not released yet."
          : "The server does not answer: whether the line was released is not known here.";
      core.set({ notice: { tone: "caution", text } });
      return;
    }
    core.set({ pending: null, notice: null });
    await startFrame(core, pending);
  });
}

/** Leaves what was asked before starting a frame; the frame is free again. */
export async function dropStart(core: DeviceCore): Promise<void> {
  const { pending, session } = core.getState();
  if (pending === null) return;
  core.set({ pending: null });
  if (session?.serial !== pending.serial && pending.why !== "unfinished") await freeFrame(core, pending.serial);
  if (pending.why !== "other line") return;
  const text = `Frame ${pending.serial} is put aside: it is measured at line ${pending.line ?? ""}.`;
  core.set({ notice: { tone: "done", text } });
}

/** Leaves the frame in hand half way; it waits on this device. */
export async function putFrameAside(core: DeviceCore): Promise<void> {
  const { session } = core.getState();
  if (session === null) return;
  await writeKept(core.database, "current", null);
  core.set({ session: null, aside: [...core.getState().aside, session], notice: null });
}

/** Gives a started frame up; what was keyed goes to the device's own record and the frame is free again. */
export async function giveFrameUp(core: DeviceCore, id: string, reason: string): Promise<void> {
  const { session, aside } = core.getState();
  const given = session?.id === id ? session : aside.find((one) => one.id === id);
  if (!given) return;
  const earlier = (await readKept<unknown[]>(core.database, "givenUp")) ?? [];
  await writeKept(core.database, "givenUp", [...earlier, { ...given, givenUpAt: core.now(), why: reason }]);
  const photos = (await listPhotos(core.database)).filter((photo) => photo.inspectionId === id);
  for (const photo of photos) await keepPhoto(core.database, { ...photo, givenUp: true });
  await dropSession(core.database, id);
  if (session?.id === id) await writeKept(core.database, "current", null);
  core.set({
    session: session?.id === id ? null : session,
    aside: aside.filter((one) => one.id !== id),
    photos: core.getState().photos.filter((photo) => photo.inspectionId !== id),
    notice: { tone: "done", text: `Frame ${given.serial} is given up. What was keyed stays on this device.` },
  });
  void freeFrame(core, given.serial);
}

/** Whoever leaves the verdict with the server's answer on it has read the answer. */
export async function noteSeen(core: DeviceCore): Promise<void> {
  const id = core.getState().finished?.inspection.id;
  if (id !== undefined && core.getState().sent.some((one) => one.id === id)) await markRead(core, [id]);
}

/** Somebody has read what the server said of some inspections. */
export async function markRead(core: DeviceCore, ids: readonly string[]): Promise<void> {
  await markSeen(core.database, ids);
  core.set({ sent: await listSent(core.database) });
}
