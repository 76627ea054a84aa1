import { LaterPart } from "./later-part";

/** Keying, judging and finishing a frame. */
export const keyingActs = new LaterPart(() => import("./keying/keying-acts"));
/** From a scan to a started frame. */
export const startActs = new LaterPart(() => import("./choose/start-frame"));
export const zeroActs = new LaterPart(() => import("./zero-check/zero-check-acts"));
/** What a person decides about the queue and photos. */
export const queueDecisions = new LaterPart(() => import("./queue/queue-decisions"));

/** Loads what the device does from the first scan on. */
export async function loadLaterActs(): Promise<void> {
  await Promise.all([keyingActs, startActs, zeroActs, queueDecisions].map((part: LaterPart<unknown>) => part.load()));
}
