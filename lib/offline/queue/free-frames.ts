import type { DeviceCore } from "../device/device-core";
import { readKept, writeKept } from "../device/device-database";
import { giveUpLease } from "../device/server-calls";

/** Serials that were given up here while the server was away: it still has them in hand on this device. */
const NAME = "toFree";

async function listToFree(core: DeviceCore): Promise<readonly string[]> {
  return (await readKept<readonly string[]>(core.database, NAME)) ?? [];
}

/** Tells the server that a frame is no more in hand here; what it does not hear now is said again later. */
export async function freeFrame(core: DeviceCore, serial: string): Promise<void> {
  const answer = await giveUpLease(core.fetch, { serial, deviceId: core.getState().deviceId });
  if (answer.kind === "ok" || answer.kind === "refused") return;
  await writeKept(core.database, NAME, [...new Set([...(await listToFree(core)), serial])]);
}

/** Says what the server did not hear; what was taken in hand again meanwhile, or waits to be sent, is left as it is. */
export async function freeFrames(core: DeviceCore): Promise<void> {
  for (const serial of await listToFree(core)) {
    const { session, aside, queue, pending, deviceId } = core.getState();
    const inHand = [
      session?.serial,
      pending?.serial,
      ...[...aside, ...queue.map((one) => one.inspection)].map((one) => one.serial),
    ];
    if (!inHand.includes(serial)) {
      const answer = await giveUpLease(core.fetch, { serial, deviceId });
      if (answer.kind === "away" || answer.kind === "signed out") return;
    }
    await writeKept(
      core.database,
      NAME,
      (await listToFree(core)).filter((one) => one !== serial),
    );
  }
}
