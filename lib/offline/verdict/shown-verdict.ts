import type { DeviceCore } from "../device/device-core";
import { readKept, writeKept } from "../device/device-database";
import type { FinishedFrame, LineState } from "../device/line-state";

const NAME = "shown";
/** Longer ago another frame is on the stand. Common practice, no source. */
const SHOWN_FOR_MS = 15 * 60_000;

type Kept = Omit<FinishedFrame, "plan">;

/** Keeps the verdict on the screen, so that a closed lid or a reload does not take the next step and the label away. */
export async function keepShown(core: DeviceCore, shown: FinishedFrame | null): Promise<void> {
  if (shown === null) return writeKept(core.database, NAME, null);
  const { plan: _plan, ...kept } = shown;
  await writeKept(core.database, NAME, kept);
}

/** The verdict that was on the screen a moment ago; null where there was none, or the next frame was begun. */
export async function readShown(core: DeviceCore, plans: LineState["plans"]): Promise<FinishedFrame | null> {
  const kept = await readKept<Kept>(core.database, NAME);
  const plan = kept === null ? undefined : plans[kept.inspection.planRevisionId];
  if (kept === null || plan === undefined) return null;
  const ageMs = core.now() - Date.parse(kept.inspection.deviceTime);
  return ageMs >= 0 && ageMs < SHOWN_FOR_MS ? { ...kept, plan } : null;
}
