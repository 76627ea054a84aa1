import { formatTimeOfDay } from "@/lib/format/date-text";
import type { BatchHolder } from "@/lib/schemas/station-package";
import type { DeviceCore } from "../device/device-core";
import { reportState } from "../queue/queue-acts";

/** More names than these say nothing more. */
const MOST_HOLDERS = 2;

/** Devices that have a batch in hand, and since when: "Tablet 2 (since 14:05), Tablet 3 and 5 more devices". */
export function holdersText(holders: readonly BatchHolder[], zone: string): string {
  const named = holders
    .slice(0, MOST_HOLDERS)
    .map(({ name, since }) =>
      since === undefined || since === null ? name : `${name} (since ${formatTimeOfDay(since, zone)})`,
    );
  const left = holders.length - named.length;
  return `${named.join(", ")}${left === 0 ? "" : ` and ${left} more ${left === 1 ? "device" : "devices"}`}`;
}

/**
 * Leases the batch that was just taken to this device, and says who else has it in hand: by the server's answer or, without
 * the network, as it was when the station's batches were last read. Nobody is kept out: each frame is leased by itself.
 */
export async function leaseBatch(core: DeviceCore): Promise<void> {
  const { batch } = core.getState().settings;
  const answer = await reportState(core, null);
  const { kit, settings, deviceId, notice } = core.getState();
  if (batch === null || settings.batch !== batch) return;
  if (notice !== null && notice.tone !== "done") return;
  const asRead = kit?.batches.find(({ key }) => key === batch)?.devices ?? [];
  const holders = (answer?.batchElsewhere ?? asRead).filter(({ id }) => id !== deviceId);
  if (holders.length === 0) return;
  const text = `Batch ${batch} is in hand on ${holdersText(holders, kit?.zone ?? "UTC")}, too. Going on here is all right: each frame belongs to the device that scans it first.`;
  core.set({ notice: { tone: "caution", text } });
}
