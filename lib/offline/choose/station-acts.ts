import type { StationKit } from "@/lib/schemas/station-package";
import { leaseBatch } from "./batch-lease";
import type { DeviceCore } from "../device/device-core";
import { writeKept } from "../device/device-database";
import type { DeviceSettings, LineState } from "../device/line-state";
import { withOwnWork } from "../device/own-work";
import { fetchStationKit, fetchStations } from "../device/server-calls";

export async function changeSettings(core: DeviceCore, change: Partial<DeviceSettings>): Promise<void> {
  await core.act(async () => {
    const settings = { ...core.getState().settings, ...change };
    await writeKept(core.database, "settings", settings);
    core.set({ settings });
  });
}

export async function loadStations(core: DeviceCore): Promise<void> {
  const answer = await fetchStations(core.fetch);
  if (answer.kind === "ok") core.set({ stations: answer.value.stations });
  else if (answer.kind === "refused") core.set({ notice: { tone: "error", text: answer.message } });
  else core.noteNetwork(answer.kind);
}

/** Takes a station's package before the device is its: a device never has one station's name and another's plans. */
export async function moveToStation(core: DeviceCore, stationId: string): Promise<boolean> {
  const answer = await fetchStationKit(core.fetch, stationId);
  core.noteNetwork(answer.kind === "ok" || answer.kind === "refused" ? "there" : answer.kind);
  if (answer.kind === "refused") core.set({ notice: { tone: "error", text: answer.message } });
  if (answer.kind !== "ok") return false;
  await core.act(async () => {
    await takeKit(core, answer.value);
    const side = answer.value.station.viewingSide;
    const settings = { ...core.getState().settings, stationId, batch: null, side };
    await writeKept(core.database, "settings", settings);
    core.set({ settings, stationClosed: null, notice: null });
  });
  return core.getState().settings.stationId === stationId;
}

/** Loads plans, batches, frames and gauges of the station anew. */
export async function refreshKit(core: DeviceCore): Promise<void> {
  const { stationId } = core.getState().settings;
  if (stationId === null) return;
  const answer = await fetchStationKit(core.fetch, stationId);
  if (answer.kind === "refused") {
    core.noteNetwork("there");
    const isClosed = answer.code === "refused" || answer.code === "not-found";
    core.set(isClosed ? { stationClosed: answer.message } : { notice: { tone: "error", text: answer.message } });
    return;
  }
  core.noteNetwork(answer.kind === "ok" ? "there" : answer.kind);
  if (answer.kind !== "ok") return;
  if (core.getState().stationClosed !== null) core.set({ stationClosed: null });
  await core.act(async () => {
    if (core.getState().settings.stationId === stationId) await takeKit(core, answer.value);
  });
}

/** Keeps what the server knows of the station, with what this device did since. */
export async function takeKit(core: DeviceCore, given: StationKit): Promise<void> {
  const before = core.getState().kit?.viewer;
  const kit = withOwnWork(given, { ...core.getState(), since: [] });
  const plans = { ...core.getState().plans };
  for (const plan of kit.plans) plans[plan.planRevisionId] = plan;
  // Somebody else has signed in: the badge scanned before is not theirs.
  const isOther = before !== undefined && before !== null && kit.viewer?.code !== before.code;
  const { inspector: scanned } = core.getState();
  // Or that badge belongs to nobody any more: what was read under it would be refused.
  const isGone = scanned !== null && !kit.inspectors.some(({ badgeCode }) => badgeCode === scanned.code);
  const inspector = isOther || isGone ? null : scanned;
  await Promise.all([
    writeKept(core.database, "kit", given),
    writeKept(core.database, "kitAt", core.now()),
    writeKept(core.database, "plans", plans),
    ...(inspector !== scanned ? [writeKept(core.database, "inspector", null)] : []),
  ]);
  core.set({ kit, kitAt: core.now(), plans, inspector });
  if (!isGone || isOther) return;
  const text = `Badge ${scanned.code} belongs to nobody any more: ${kit.viewer?.name ?? "who is signed in"} measures now. Scan the badge of who does.`;
  core.set({ notice: { tone: "caution", text }, feedback: core.asking() });
}

/** Takes a batch in hand, or leaves the one in hand; who else has it is said once the server has answered. */
export async function chooseBatch(core: DeviceCore, batch: string | null): Promise<void> {
  const before = core.getState().settings;
  const settings = { ...before, batch };
  await writeKept(core.database, "settings", settings);
  core.set({ settings, notice: null });
  if (batch !== before.batch) void leaseBatch(core);
}
