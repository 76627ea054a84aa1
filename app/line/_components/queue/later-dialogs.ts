import { LaterPart } from "@/lib/offline/later-part";
import { laterScreen } from "../parts/later-screen";

const queue = new LaterPart(async () => (await import("./queue-dialog")).QueueDialog);
const reason = new LaterPart(async () => (await import("../parts/reason-dialog")).ReasonDialog);

export const QueueDialog = laterScreen(queue);
export const ReasonDialog = laterScreen(reason);

export async function loadLaterDialogs(): Promise<void> {
  await Promise.all([queue.load(), reason.load()]);
}
