import { randomUUID } from "node:crypto";
import { setTimeout as sleep } from "node:timers/promises";
import { closeConnections } from "@/lib/server/db/client";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { startWorker } from "@/lib/server/jobs/work";
import { mailJob, tellJob, watchJob, webhookJob } from "@/lib/server/messages/jobs";
import { writeEvents } from "@/lib/server/outbox/write-events";

/** So that what is written can be sent within the time of a test. */
const PAUSE_MS = 25;

/** This file, from the top of the project. */
export const MESSAGE_PROCESS = "tests/helpers/message-process.ts";

// Processes that can be killed: node lib/cli/run.mjs tests/helpers/message-process.ts work, or write PLANT.
const [, , mode, plantId = ""] = process.argv;
if (mode === "work") {
  const worker = await startWorker([tellJob, mailJob, webhookJob, watchJob]);
  process.stdout.write("ready\n");
  process.on(
    "SIGTERM",
    () =>
      void worker
        .stop()
        .then(closeConnections)
        .then(() => process.exit(0)),
  );
} else if (mode === "write") {
  process.stdout.write("ready\n");
  for (;;) {
    const gauge = randomUUID();
    const payload = { gauge, driftUm: 8, limitUm: 3, heldFrames: 0, heldBatches: 0, escapes: 0 };
    await inSqlTransaction((db) => writeEvents(db, plantId, [{ topic: "gauge.failed", payload }], new Date()));
    // Whoever reads this knows that the event is there, whatever becomes of this process.
    process.stdout.write(`${gauge}\n`);
    await sleep(PAUSE_MS);
  }
}
