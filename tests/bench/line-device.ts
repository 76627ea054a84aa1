import { setTimeout as sleep } from "node:timers/promises";
import type { Page } from "playwright-core";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { launchBrowser } from "../helpers/browser";
import { startLinePlant, type LinePlant } from "../helpers/line-plant";
import { FIRST_LOAD_BYTES, FIRST_LOAD_PROBE, type FirstLoad, firstLoadBytes } from "../helpers/first-load";
import { openLine, untilSeen, waitForWorker } from "../helpers/line-sight";
import type { TestPlant } from "../helpers/plant";
import type { BenchLine } from "./run";

const SLOWER = 4;
const STARTS = 15;
const QUEUED = 500;
const QUEUE_SECONDS = 30;

/** In the page, from its first line on: when "Scan a frame" had been drawn, ms from the start of the navigation. */
const START_PROBE = `(() => {
  const look = () => {
    if (document.querySelector("main h1")?.textContent !== "Scan a frame") return requestAnimationFrame(look);
    const channel = new MessageChannel();
    channel.port1.onmessage = () => { window.startedAfter = performance.now(); };
    channel.port2.postMessage(null);
  };
  requestAnimationFrame(look);
})()`;

async function newDevice(plant: LinePlant, frames: number) {
  const browser = await launchBrowser();
  const made = await plant.addPlant({ frames, plan: "routine" });
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
  await plant.signIn(context, made.email);
  await context.addInitScript(FIRST_LOAD_PROBE);
  const page = await openLine(context, plant.address);
  await page.getByRole("button", { name: "Station 1" }).click();
  await untilSeen(page, ({ at }) => at === "choose", "the station's frames");
  // What comes after the first screen has come, too.
  await page.waitForTimeout(3000);
  const script = await firstLoadBytes(page);
  await waitForWorker(page);
  await untilSeen(page, ({ at }) => at === "choose", "the station's frames");
  return { browser, context, page, made, script };
}

/** Starts of Line from the device, without the network, the worker stopped before; ms until frames can be scanned. */
async function starts(plant: LinePlant): Promise<{ times: number[]; script: FirstLoad }> {
  const { browser, context, page: first, script } = await newDevice(plant, 200);
  try {
    await context.addInitScript(START_PROBE);
    await context.setOffline(true);
    await first.close();
    const times: number[] = [];
    for (let at = 0; at < STARTS; at += 1) {
      const page = await context.newPage();
      const cdp = await context.newCDPSession(page);
      await cdp.send("ServiceWorker.enable");
      await cdp.send("ServiceWorker.stopAllWorkers");
      await cdp.send("Emulation.setCPUThrottlingRate", { rate: SLOWER });
      await page.goto(`${plant.address}/line`, { waitUntil: "commit" });
      const shown = await page.waitForFunction(() => (window as unknown as { startedAfter?: number }).startedAfter);
      times.push((await shown.jsonValue()) ?? Number.NaN);
      await page.close();
    }
    return { times: times.sort((a, b) => a - b), script };
  } finally {
    await browser.close();
  }
}

/** Puts finished inspections into the device's queue, as if they had been keyed without the network. */
async function queueInspections(page: Page, made: TestPlant): Promise<void> {
  const entries = Array.from({ length: QUEUED }, (_, at) => ({
    inspection: made.inspection(`T-${String(at + 1).padStart(4, "0")}`),
    deviceVerdict: "conforms",
    queuedAt: Date.now(),
    state: "waiting",
    refusal: null,
  }));
  await page.evaluate(async (given) => {
    await new Promise<void>((resolve, reject) => {
      const request = indexedDB.open("shellgate-line");
      request.onerror = () => reject(new Error(request.error?.message));
      request.onsuccess = () => {
        const transaction = request.result.transaction("outbox", "readwrite");
        for (const entry of given) transaction.objectStore("outbox").add(entry);
        transaction.oncomplete = () => {
          request.result.close();
          resolve();
        };
      };
    });
  }, entries);
}

async function arrived(made: TestPlant): Promise<number> {
  const { rows } = await getPool().query<{ n: number }>(
    sql`select count(*)::int as n from inspection where plant_id = ${made.plantId}`,
  );
  return rows[0]?.n ?? 0;
}

/** Seconds from the network's return until the server has all that the device queued. */
async function sendQueue(plant: LinePlant): Promise<number> {
  const { browser, context, page, made } = await newDevice(plant, QUEUED);
  try {
    await context.setOffline(true);
    await queueInspections(page, made);
    await page.reload();
    await page.getByText(`${QUEUED * made.names.length} readings saved on this tablet`).waitFor();
    const begun = performance.now();
    await context.setOffline(false);
    while ((await arrived(made)) < QUEUED) {
      if (performance.now() - begun > 10 * QUEUE_SECONDS * 1000) throw new Error("the queue was not sent");
      await sleep(50);
    }
    const seconds = (performance.now() - begun) / 1000;
    await page.getByText("all readings sent").waitFor();
    return seconds;
  } finally {
    await browser.close();
  }
}

/** Size of Line, its start from the device with the processor slowed four times, and how fast a queue is sent. */
export async function bench(): Promise<BenchLine[]> {
  const plant = await startLinePlant();
  try {
    const { times, script } = await starts(plant);
    const seconds = await sendQueue(plant);
    const at = (share: number) => times[Math.ceil(share * times.length) - 1] ?? Number.NaN;
    return [
      { name: "script of the first load, compressed, bytes", value: script.first, goal: FIRST_LOAD_BYTES },
      { name: "script loaded after the first screen, compressed, bytes", value: script.later, goal: null },
      { name: "start from the device, median, ms", value: at(0.5), goal: 1000 },
      { name: "start from the device, longest, ms", value: at(1), goal: null },
      { name: `${QUEUED} queued inspections sent, s`, value: seconds, goal: QUEUE_SECONDS },
    ];
  } finally {
    await plant.stop();
  }
}
