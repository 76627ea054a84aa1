import "server-only";
import { z } from "zod";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { defineJob, type JobRun } from "../jobs/define-job";
import { enqueue } from "../jobs/queue";
import { TELL } from "../outbox/write-events";
import { findEvents } from "./find-events";
import { forgetOldMessages } from "./forget-old";
import { sendDueMails } from "./send-mails";
import { sendDueWebhooks } from "./send-webhooks";
import { MAIL, WEBHOOK } from "./sending-work";
import { MOST_AT_ONCE, tellEvents } from "./tell-events";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.jobs;

/** Tries that are due within so long of each other are one piece of work. */
const GATHER_MS = 5_000;

/** The end of the stretch of time in which a try is due, so that all tries of it are due then. */
const gathered = (next: Date): Date => new Date(Math.ceil(next.getTime() / GATHER_MS) * GATHER_MS);

async function finishWithNext(
  job: JobRun,
  next: Date | null,
  add: (key: string, at: Date) => Parameters<JobRun["finish"]>[0],
) {
  if (next === null) return;
  const at = gathered(next);
  await job.finish(add(at.toISOString(), at));
}

export const tellJob = defineJob({
  ...TELL,
  title: words.tellOfWhatHappened,
  run: async ({ plantId }) => {
    while ((await tellEvents(plantId)) === MOST_AT_ONCE);
  },
});

export const mailJob = defineJob({
  ...MAIL,
  title: words.sendMails,
  deadlineS: 600,
  run: async ({ plantId }, job) => {
    const next = await sendDueMails(plantId, { signal: job.signal });
    await finishWithNext(job, next, (key, startAfter) => async (db) => {
      await enqueue(db, MAIL, { plantId }, { key: `${plantId} ${key}`, startAfter });
    });
  },
});

export const webhookJob = defineJob({
  ...WEBHOOK,
  title: words.callWebhook,
  deadlineS: 600,
  // A receiver that is slow keeps no other one waiting.
  atOnce: 4,
  run: async ({ plantId, webhookId }, job) => {
    const next = await sendDueWebhooks(plantId, webhookId, { signal: job.signal });
    await finishWithNext(job, next, (key, startAfter) => async (db) => {
      await enqueue(db, WEBHOOK, { plantId, webhookId }, { key: `${webhookId} ${key}`, startAfter });
    });
  },
});

/** Adds the work that should be there already, where whoever was to add it ended before. */
async function addMissedWork(plantId: string): Promise<void> {
  const { rows } = await getPool().query<{ untold: boolean; mails: boolean; webhookIds: string[] }>(sql`
    select exists (select from outbox where plant_id = ${plantId} and delivered_at is null) as untold,
      exists (select from mail_delivery where plant_id = ${plantId} and state = 'waiting' and next_at <= now()) as mails,
      array(select w.id from webhook w where w.plant_id = ${plantId} and w.active and exists (
        select from webhook_delivery d where d.plant_id = w.plant_id and d.webhook_id = w.id and d.state = 'waiting'
          and d.next_at <= now())) as "webhookIds"`);
  const due = rows[0];
  if (due?.untold === true) await enqueue(getPool(), TELL, { plantId }, { key: plantId });
  if (due?.mails === true) await enqueue(getPool(), MAIL, { plantId }, { key: plantId });
  for (const webhookId of due?.webhookIds ?? [])
    await enqueue(getPool(), WEBHOOK, { plantId, webhookId }, { key: webhookId });
}

const plantId = plantColumns("p", ["id"]);

export const watchJob = defineJob({
  name: "messages.watch",
  title: words.lookForWhatSomebodyShould,
  schema: z.strictObject({}),
  everyS: 60,
  // The next minute is the next try.
  tries: 3,
  run: async () => {
    const { rows } = await getPool().query<RowOf<typeof plantId>>(sql`select ${plantId} from plant p order by p.id`);
    for (const { id } of rows) {
      await findEvents(id);
      await addMissedWork(id);
      await forgetOldMessages(id);
    }
  },
});
