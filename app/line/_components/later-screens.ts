import { LaterPart } from "@/lib/offline/later-part";
import { loadLaterDialogs } from "./queue/later-dialogs";
import { laterScreen } from "./parts/later-screen";

const keying = new LaterPart(async () => (await import("./keying/keying-screen")).KeyingScreen);
const finished = new LaterPart(async () => (await import("./verdict/finished-frame")).FinishedFrame);
const zeroCheck = new LaterPart(async () => (await import("./zero-check/zero-check-screen")).ZeroCheckScreen);
const pending = new LaterPart(async () => (await import("./choose/pending-start")).PendingStart);

export const KeyingScreen = laterScreen(keying);
export const FinishedFrame = laterScreen(finished);
export const ZeroCheckScreen = laterScreen(zeroCheck);
export const PendingStart = laterScreen(pending);

/** Loads the screens that come after the first one, in the order in which they are met, and the estimates of a verdict. */
export async function loadLaterScreens(): Promise<void> {
  await Promise.all([keying.load(), pending.load(), zeroCheck.load(), finished.load(), loadLaterDialogs()]);
  const { loadMeanings } = await import("./verdict/finished-frame");
  await loadMeanings();
}
