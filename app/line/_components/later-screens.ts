import { LaterPart } from "@/lib/offline/later-part";
import { loadLaterDialogs } from "./later-dialogs";
import { laterScreen } from "./later-screen";

const keying = new LaterPart(async () => (await import("./keying-screen")).KeyingScreen);
const finished = new LaterPart(async () => (await import("./finished-frame")).FinishedFrame);
const zeroCheck = new LaterPart(async () => (await import("./zero-check-screen")).ZeroCheckScreen);
const pending = new LaterPart(async () => (await import("./pending-start")).PendingStart);

export const KeyingScreen = laterScreen(keying);
export const FinishedFrame = laterScreen(finished);
export const ZeroCheckScreen = laterScreen(zeroCheck);
export const PendingStart = laterScreen(pending);

/** Loads the screens that come after the first one, in the order in which they are met, and the estimates of a verdict. */
export async function loadLaterScreens(): Promise<void> {
  await Promise.all([keying.load(), pending.load(), zeroCheck.load(), finished.load(), loadLaterDialogs()]);
  const { loadMeanings } = await import("./finished-frame");
  await loadMeanings();
}
