import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { bundledCommand } from "@/lib/cli/bundled.mjs";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { EVENT_KINDS } from "@/lib/quality/messages/event-kinds";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { sendDueWebhooks } from "@/lib/server/messages/send-webhooks";
import { changeMessageTimes } from "@/lib/server/messages/sending-commands";
import { tellEvents } from "@/lib/server/messages/tell-events";
import { addWebhook } from "@/lib/server/messages/webhook-commands";
import { writeEvents } from "@/lib/server/outbox/write-events";
import { ROOT } from "@/tests/rules/source-files";
import { MESSAGE_PROCESS } from "./message-process";
import type { TestPlant } from "./plant";
import { startReceiver, type ReceivedCall } from "./webhook-receiver";

/** A process of message-process.ts that has said that it is ready; `written` gets every further line. */
export async function startMessageProcess(
  appUrl: string,
  mode: readonly string[],
  written: (line: string) => void = () => undefined,
): Promise<ChildProcess> {
  const bundle = await bundledCommand(path.join(ROOT, MESSAGE_PROCESS));
  if (bundle === null) throw new Error("the processes of the messages' tests cannot be bundled");
  const child = spawn(process.execPath, [bundle, ...mode], {
    env: { ...process.env, DATABASE_URL: appUrl, LOG_LEVEL: "error" },
    stdio: ["ignore", "pipe", "ignore"],
  });
  let rest = "";
  child.stdout?.on("data", (part: Buffer) => {
    const lines = (rest + part.toString()).split("\n");
    rest = lines.pop() ?? "";
    for (const line of lines) if (line !== "ready") written(line);
  });
  await Promise.race([
    once(child.stdout ?? child, "data"),
    once(child, "exit").then(([code]) => {
      throw new Error(`the process ended with ${String(code)}`);
    }),
  ]);
  return child;
}

export async function endProcess(child: ChildProcess, signal: NodeJS.Signals): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill(signal);
  await once(child, "exit");
}

/** A webhook for everything that calls the loopback address. */
export async function hookTo(plant: TestPlant, url: string): Promise<string> {
  await changeMessageTimes(plant.system, { shiftStarts: ["06:00"], ownNetwork: true });
  return (await addWebhook(plant.system, { name: "trial", url, kinds: [...EVENT_KINDS] })).id;
}

export const idsOf = (calls: readonly ReceivedCall[]): ReadonlySet<string> =>
  new Set(calls.map(({ headers }) => headers["webhook-id"] ?? ""));

export async function eventIds(plant: TestPlant): Promise<readonly string[]> {
  const { rows } = await getPool().query<{ id: string }>(sql`
    select id from outbox where plant_id = ${plant.plantId} order by number`);
  return rows.map(({ id }) => id);
}

export type FailingTrial = {
  readonly events: number;
  readonly calls: number;
  readonly arrived: number;
  /** Numbers under which more than one content came. */
  readonly mixed: number;
  /** Events that were taken after a later one of their subject. */
  readonly outOfOrder: number;
};

/** Sends events of some subjects to a receiver that refuses every third call, by a clock that is put forward. */
export async function trialOfFailing(plant: TestPlant, events: number, subjects: number): Promise<FailingTrial> {
  const taken: { subject: string; place: number; id: string }[] = [];
  const bodies = new Map<string, Set<string>>();
  const receiver = await startReceiver(({ headers, body }, count) => {
    const id = headers["webhook-id"] ?? "";
    bodies.set(id, (bodies.get(id) ?? new Set()).add(body));
    if (count % 3 === 0) return 500;
    const { gauge, driftUm } = (JSON.parse(body) as { data: { gauge: string; driftUm: number } }).data;
    taken.push({ subject: gauge, place: driftUm, id });
    return 200;
  });
  const webhookId = await hookTo(plant, receiver.url);
  for (let from = 0; from < events; from += 500) {
    const written = Array.from({ length: Math.min(500, events - from) }, (_, place) => ({
      topic: "gauge.failed" as const,
      payload: {
        gauge: `G-${(from + place) % subjects}`,
        driftUm: from + place,
        limitUm: 3,
        heldFrames: 0,
        heldBatches: 0,
        escapes: 0,
      },
    }));
    await inSqlTransaction((db) => writeEvents(db, plant.plantId, written, new Date()));
  }
  while ((await tellEvents(plant.plantId)) > 0);
  let aheadMs = 0;
  const clock = (): Date => new Date(Date.now() + aheadMs);
  for (let next = await sendDueWebhooks(plant.plantId, webhookId, { clock }); next !== null;) {
    aheadMs = Math.max(aheadMs, next.getTime() - Date.now()) + 60_000;
    next = await sendDueWebhooks(plant.plantId, webhookId, { clock });
  }
  await receiver.close();
  const last = new Map<string, number>();
  let outOfOrder = 0;
  for (const { subject, place } of taken) {
    if ((last.get(subject) ?? -1) > place) outOfOrder += 1;
    last.set(subject, place);
  }
  return {
    events,
    calls: receiver.calls.length,
    arrived: new Set(taken.map(({ id }) => id)).size,
    mixed: [...bodies.values()].filter((contents) => contents.size > 1).length,
    outOfOrder,
  };
}

export type KillTrial = {
  readonly kills: number;
  /** Events of which a writer said that they were there, and which are not. */
  readonly saidAndGone: number;
  readonly events: number;
  readonly arrived: number;
  readonly calls: number;
  readonly messages: number;
};

/** Kills two workers and whoever writes events, at random, and waits until everything that was written arrived. */
export async function trialOfKills(appUrl: string, plant: TestPlant, kills: number, seed: number): Promise<KillTrial> {
  const refused = new Set<string>();
  const receiver = await startReceiver(({ headers }, count) => {
    const id = headers["webhook-id"] ?? "";
    // Once at most, since the second wait is long.
    if (count % 5 !== 0 || refused.has(id)) return 200;
    refused.add(id);
    return 500;
  });
  await hookTo(plant, receiver.url);
  const random = createSeededGenerator(seed);
  const said: string[] = [];
  const work = () => startMessageProcess(appUrl, ["work"]);
  const write = () => startMessageProcess(appUrl, ["write", plant.plantId], (line) => said.push(line));
  const living = [await work(), await work(), await write()];
  for (let kill = 0; kill < kills; kill += 1) {
    await sleep(400 * random.uniform());
    const place = Math.floor(3 * random.uniform());
    const victim = living[place];
    if (victim) await endProcess(victim, "SIGKILL");
    living[place] = place === 2 ? await write() : await work();
  }
  if (living[2]) await endProcess(living[2], "SIGKILL");
  const events = await eventIds(plant);
  const end = performance.now() + 120_000 + kills * 1_000;
  const missing = (): boolean => {
    const arrived = idsOf(receiver.calls);
    return events.some((id) => !arrived.has(id));
  };
  while (missing() && performance.now() < end) await sleep(100);
  const { rows } = await getPool().query<{ told: number; written: string[] }>(sql`
    select coalesce(sum(m.events), 0)::int as told,
      array(select o.payload ->> 'gauge' from outbox o where o.plant_id = ${plant.plantId}) as written
    from message m where m.plant_id = ${plant.plantId}`);
  for (const child of living) await endProcess(child, "SIGTERM");
  await receiver.close();
  const written = new Set(rows[0]?.written);
  return {
    kills,
    saidAndGone: said.filter((gauge) => !written.has(gauge)).length,
    events: events.length,
    arrived: events.filter((id) => idsOf(receiver.calls).has(id)).length,
    calls: receiver.calls.length,
    messages: rows[0]?.told ?? 0,
  };
}
