import { betterSkew, clockSkew } from "../device/clock-skew";
import type { DeviceCore } from "../device/device-core";
import {
  changeAllQueued,
  dropPhoto,
  isCheck,
  isDifferent,
  keepPhoto,
  listOutbox,
  listPhotos,
  listQueue,
  listSent,
  listSentChecks,
  type SentCheck,
  type StoredEntry,
  toSend,
  writeKept,
} from "../device/device-database";
import { freeFrames } from "./free-frames";
import { sendWaiting } from "./send-queue";
import { type ReportAnswer, sendPhoto, sendReport } from "../device/server-calls";

/** Photos go one by one, after their inspections. */
async function sendPhotos(core: DeviceCore): Promise<void> {
  const { session, aside, queue } = core.getState();
  const notYet = new Set([
    ...queue.map(({ inspection }) => inspection.id),
    ...[...aside, ...(session === null ? [] : [session])].map(({ id }) => id),
  ]);
  for (const photo of await listPhotos(core.database)) {
    if (photo.givenUp === true || notYet.has(photo.inspectionId)) continue;
    const { id, inspectionId, jpeg } = photo;
    const answer = await sendPhoto(core.fetch, { id, inspectionId, jpeg });
    if (answer.kind === "away" || answer.kind === "signed out") {
      core.noteNetwork(answer.kind);
      return;
    }
    if (answer.kind === "ok") await dropPhoto(core.database, id);
    else if (answer.message !== photo.refusal) await keepPhoto(core.database, { ...photo, refusal: answer.message });
    core.set({ photos: toSend(await listPhotos(core.database)) });
  }
}

/** The queue goes out in its order, until it is empty or the server is away. */
async function sendQueue(core: DeviceCore): Promise<void> {
  for (let more = true; more;) {
    const result = await sendWaiting(core.database, core.fetch, core.now);
    if (result.kind === "away" || result.kind === "signed out") core.noteNetwork(result.kind);
    else if (result.kind === "stuck") core.set({ notice: { tone: "error", text: result.message } });
    else if (result.kind === "checked") {
      core.noteNetwork("there");
      await core.readOutbox();
      const sentChecks: readonly SentCheck[] = await listSentChecks(core.database);
      core.set({ sentChecks, ...(result.refused > 0 ? { feedback: core.asking() } : {}) });
    } else if (result.sent.length > 0 || result.refused > 0) {
      core.noteNetwork("there");
      const [queue, sent] = await Promise.all([listQueue(core.database), listSent(core.database)]);
      core.set({ queue, sent, ...(result.refused > 0 ? { feedback: core.asking() } : {}) });
    }
    more = (result.kind === "sent" || result.kind === "checked") && result.left > 0;
  }
}

function lacksSkew(entry: StoredEntry): boolean {
  if (entry.state !== "waiting") return false;
  return isCheck(entry) ? entry.check.skewMs === null : entry.inspection.clockSkewMs === undefined;
}

/**
 * What was finished while the distance of the clocks was not known gets it before it goes out for the first time.
 *
 * @returns false where it has to wait: the server, which alone knows the distance, does not answer
 */
async function placeInTime(core: DeviceCore): Promise<boolean> {
  if (![...core.getState().queue, ...core.getState().checks].some(lacksSkew)) return true;
  if (core.skewNow() === null) await reportState(core, null);
  const skewMs = core.skewNow();
  if (skewMs === null) return false;
  const lacking = (await listOutbox(core.database)).filter(lacksSkew);
  await changeAllQueued(
    core.database,
    lacking.map((entry) =>
      isCheck(entry)
        ? { ...entry, check: { ...entry.check, skewMs } }
        : { ...entry, inspection: { ...entry.inspection, clockSkewMs: Math.round(skewMs) } },
    ),
  );
  await core.readOutbox();
  return true;
}

/** Sends what waits, oldest first, until the queue is empty or the server is away; then the photos. */
export async function sendEverything(core: DeviceCore): Promise<void> {
  // What a device keeps waits while it or its station is out of use: none of it is refused one by one.
  const { settings, revoked, stationClosed } = core.getState();
  if (settings.stationId === null || revoked !== null || stationClosed !== null) return;
  await core.exclusively(async () => {
    if (!(await placeInTime(core))) return;
    await sendQueue(core);
    if (core.getState().photos.length > 0) await sendPhotos(core);
    await freeFrames(core);
  });
}

/** Keeps what people call this device. */
export async function nameDevice(core: DeviceCore, deviceName: string): Promise<void> {
  await writeKept(core.database, "deviceName", deviceName);
  core.set({ deviceName });
}

/**
 * Asks the server for its time and build, and tells it of the queue and of the batch in hand.
 *
 * @param build - of the program on this device; null where it is not to be compared
 * @returns the server's answer; null where there was none
 */
export async function reportState(core: DeviceCore, build: string | null): Promise<ReportAnswer | null> {
  const { settings, deviceId, deviceName, queue, checks, sent, skew: known } = core.getState();
  if (settings.stationId === null) return null;
  const entries = [...queue, ...checks].sort((a, b) => a.order - b.order);
  const waiting = entries.filter((entry) => entry.state === "waiting");
  const sentAt = core.now();
  const answer = await sendReport(core.fetch, {
    deviceId,
    stationId: settings.stationId,
    ...(deviceName === null ? {} : { name: deviceName }),
    waiting: waiting.length,
    // Put aside, too: the server does not have it, and the engineer shall see that.
    refused: entries.length - waiting.length,
    oldestAt: waiting[0]?.queuedAt ?? null,
    clockSkewMs: known === null ? null : Math.round(known.skewMs),
    batch: settings.batch,
    differences: [...new Set(sent.filter(isDifferent).map(({ serial }) => serial))].slice(0, 20),
  });
  if (answer.kind === "refused") {
    core.noteNetwork("there");
    core.set({ revoked: answer.message });
    return null;
  }
  core.noteNetwork(answer.kind === "ok" ? "there" : answer.kind);
  if (answer.kind !== "ok") return null;
  if (core.getState().revoked !== null) core.set({ revoked: null });
  const { serverTime, stationClosed = null, name = null } = answer.value;
  if (name !== null && name !== core.getState().deviceName) await nameDevice(core, name);
  // Said before anything is sent: so what waits is not refused entry by entry.
  if (core.getState().settings.stationId === settings.stationId && core.getState().stationClosed !== stationClosed)
    core.set({ stationClosed });
  const skew = betterSkew(core.getState().skew, clockSkew({ sentAt, answeredAt: core.now(), serverTime }));
  if (skew !== core.getState().skew) await writeKept(core.database, "skew", skew);
  const { build: theirs } = answer.value;
  const newBuild = build === null ? core.getState().newBuild : theirs === build ? null : theirs;
  // Nothing is drawn anew where nothing is new: a report may be answered in the middle of keying.
  if (skew !== core.getState().skew || newBuild !== core.getState().newBuild) core.set({ skew, newBuild });
  return answer.value;
}
