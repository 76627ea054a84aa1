import type { Page } from "playwright-core";
import pg from "pg";
import { describe, expect, inject, it } from "vitest";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { revokeDevice } from "@/lib/server/line/devices";
import { changeGauge } from "@/lib/server/gauges/change-gauges";
import { changeStation } from "@/lib/server/plant/change-parts";
import { listGauges } from "@/lib/server/gauges/register";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import {
  atStation,
  besideApplication,
  button,
  createShiftPlant,
  goodTexts,
  key,
  keyAll,
  recordOf,
  type ShiftPlant,
  startFrame,
} from "../helpers/line-shift";
import { axeViolations } from "../helpers/signed-in";

const { browser, base } = besideApplication();
const verdict = (page: Page, word: string) => page.getByRole("heading", { name: word, exact: true });
const numbersOf = (plant: ShiftPlant) => goodTexts(plant.names.map(formatReadingName));

/** Measures a frame on a device that does not reach the server. */
async function measureOffline(page: Page, plant: ShiftPlant, serial: string): Promise<void> {
  await page.context().setOffline(true);
  await startFrame(page, serial);
  await keyAll(page, numbersOf(plant));
  await verdict(page, "conforms").waitFor();
}

/** Opens what is on the device and sends the refused entry again with a reason. */
async function sendAgain(page: Page, why: string): Promise<void> {
  await page.getByText(/1.entry to decide/).click();
  expect(await axeViolations(page)).toEqual([]);
  await page.getByLabel("Why it is sent again").fill(why);
  await button(page, "Send again").click();
  await page.getByText("Why it is sent again").waitFor({ state: "detached" });
}

describe("two devices on the same batch", () => {
  it("see each other, keep apart what is in hand, and a frame measured on both waits for a person", async () => {
    const plant = await createShiftPlant(6);
    const one = await atStation(browser(), base(), plant.ada);
    await button(one.page, /^T-BATCH/).click();
    await startFrame(one.page, "T-0001");
    await one.page.waitForTimeout(500);
    const two = await atStation(browser(), base(), plant.ben);
    await button(two.page, /^T-BATCH/).click();
    await two.page.getByText(/^Batch T-BATCH is in hand on Station 1, device \d \(since \d\d:\d\d\), too\./).waitFor();
    await key(two.page, "T-0001");
    await two.page.getByText(/is being measured on Station 1, device \d/).waitFor();
    // The first device loses the network; both measure T-0002.
    await keyAll(one.page, numbersOf(plant));
    await one.page.getByText("on the server", { exact: true }).waitFor();
    await measureOffline(one.page, plant, "T-0002");
    await startFrame(two.page, "T-0002");
    await keyAll(two.page, numbersOf(plant));
    await two.page.getByText("on the server", { exact: true }).waitFor();
    await one.context.setOffline(false);
    await sendAgain(one.page, "measured on two devices");
    await expect.poll(async () => (await recordOf(plant, "T-0002")).inspections.length, { timeout: 20_000 }).toBe(2);
    expect((await recordOf(plant, "T-0002")).inspections).toMatchObject([
      { inspector: "Ada Brook", reason: "measured on two devices" },
      { inspector: "Ben Carrow", reason: null },
    ]);
    await one.context.close();
    await two.context.close();
  });
});

describe("what happened meanwhile", () => {
  it("a frame that shipped is recorded by a person's decision, and the answer waits to be read", async () => {
    const plant = await createShiftPlant(4);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await keyAll(page, numbersOf(plant));
    await page.getByText("on the server", { exact: true }).waitFor();
    await measureOffline(page, plant, "T-0002");
    // Elsewhere the frame is measured and leaves the plant.
    await recordInspection(plant.system, plant.inspection("T-0002"));
    for (const serial of ["T-0003", "T-0004"]) await recordInspection(plant.system, plant.inspection(serial));
    expect((await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0002" })).answer).toBe("shipped");
    await context.setOffline(false);
    await sendAgain(page, "measured before it left");
    await button(page, "Close").click();
    await expect.poll(async () => (await recordOf(plant, "T-0002")).inspections.length, { timeout: 20_000 }).toBe(2);
    await page
      .getByText(/Frame T-0002 shipped on/)
      .first()
      .waitFor();
    expect((await recordOf(plant, "T-0002")).state).toBe("shipped");
    await context.close();
  });

  it("a plan that was revised: recorded by the revision it was keyed by, and said so to be read", async () => {
    const plant = await createShiftPlant(4);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await keyAll(page, numbersOf(plant));
    await page.getByText("on the server", { exact: true }).waitFor();
    await measureOffline(page, plant, "T-0002");
    await button(page, "Batch").click();
    await plant.releasePlan({});
    // Each process of the application looks its plans up again after two seconds.
    await page.waitForTimeout(2_500);
    await context.setOffline(false);
    await page.getByText(/1.answer to read/).waitFor({ timeout: 30_000 });
    await page.getByText(/1.answer to read/).click();
    await page.getByText(/Plan P1 was revised while this frame was measured/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await button(page, "Read").click();
    await button(page, "Close").click();
    await page.getByText("all readings sent").waitFor();
    expect((await recordOf(plant, "T-0002")).inspections).toMatchObject([{ planRevision: "1" }]);
    await context.close();
  });

  it("a gauge whose calibration ran out: asked about before it is used, and the frame is held", async () => {
    const plant = await createShiftPlant(3);
    const owner = new pg.Client({ connectionString: inject("ownerDatabase") });
    await owner.connect();
    await owner.query("alter table calibration disable trigger user");
    await owner.query(sql`
      update calibration set due_at = now() - interval '1 day' where plant_id = ${plant.plantId} and gauge_id in
        (select id from gauge where plant_id = ${plant.plantId} and kind = 'bore')`);
    await owner.query("alter table calibration enable trigger user");
    await owner.end();
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await page
      .getByText(/calibration ran out/)
      .first()
      .waitFor();
    await key(page, "T-0001");
    await page.getByText("Show BG-1 its ring").waitFor();
    await key(page, "40.9752");
    await page.getByRole("heading", { name: "Measure T-0001 with BG-1?" }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await button(page, "Measure all the same").click();
    await page.getByText(/BG-1 proves nothing: its calibration ran out on/).waitFor();
    await keyAll(page, numbersOf(plant));
    await page
      .getByText(/Gauge BG-1 was out of calibration/)
      .first()
      .waitFor();
    await expect.poll(async () => (await recordOf(plant, "T-0001")).state, { timeout: 20_000 }).toBe("held");
    await context.close();
  });

  it("the device was taken out of use: nothing is sent, nothing is lost, and it says why", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await keyAll(page, numbersOf(plant));
    await page.getByText("on the server", { exact: true }).waitFor();
    const { rows } = await getPool().query<{ id: string }>(
      sql`select id from device where plant_id = ${plant.plantId}`,
    );
    await context.setOffline(true);
    await startFrame(page, "T-0002");
    await keyAll(page, numbersOf(plant));
    await verdict(page, "conforms").waitFor();
    await button(page, "Batch").click();
    await revokeDevice(plant.engineer, { id: rows[0]?.id ?? "", reason: "left at the dock" });
    await context.setOffline(false);
    await page.getByText(/This device was taken out of use/).waitFor({ timeout: 30_000 });
    expect((await recordOf(plant, "T-0002")).inspections).toEqual([]);
    await key(page, "T-0003");
    await page.getByText(/was taken out of use. Nothing was stored/).waitFor();
    await context.close();
  });

  it("the station was taken out of use: what waits is kept and sent when it is back, and nothing new is started", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await keyAll(page, numbersOf(plant));
    await page.getByText("on the server", { exact: true }).waitFor();
    await measureOffline(page, plant, "T-0002");
    await button(page, "Batch").click();
    const station = { key: "S1", name: "Bench 1", viewingSide: "ds" } as const;
    await changeStation(plant.engineer, { ...station, version: 0, inUse: false });
    await context.setOffline(false);
    await page.getByText(/^Bench 1 is out of use. What this device has stays on it/).waitFor({ timeout: 30_000 });
    expect((await recordOf(plant, "T-0002")).inspections).toEqual([]);
    await key(page, "T-0003");
    await button(page, "Choose another station").waitFor();
    expect(await page.getByLabel("Serial, batch or badge").isVisible()).toBe(true);
    expect((await recordOf(plant, "T-0003")).state).toBe("unmeasured");
    expect(await axeViolations(page)).toEqual([]);
    await changeStation(plant.engineer, { ...station, version: 1, inUse: true });
    await page.getByText("all readings sent").waitFor({ timeout: 40_000 });
    expect((await recordOf(plant, "T-0002")).inspections).toHaveLength(1);
    await context.close();
  });

  it("a gauge was taken out of use: what was measured with it is taken and said, and Line no longer offers it", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await keyAll(page, numbersOf(plant));
    await page.getByText("on the server", { exact: true }).waitFor();
    await measureOffline(page, plant, "T-0002");
    await button(page, "Batch").click();
    const [gauge] = (await listGauges(plant.engineer)).filter(({ key: one }) => one === "BG-1");
    if (!gauge) throw new Error("the plant has no gauge BG-1");
    const { name, resolutionUm, station, ring, version } = gauge;
    const places = { ...(station === null ? {} : { station }), ...(ring === null ? {} : { ring }) };
    await changeGauge(plant.engineer, { key: "BG-1", name, resolutionUm, ...places, version, inUse: false });
    // Each process of the application looks its gauges up again after two seconds.
    await page.waitForTimeout(2_500);
    await context.setOffline(false);
    await page.getByText(/1.answer to read/).waitFor({ timeout: 30_000 });
    await page.getByText(/1.answer to read/).click();
    await page.getByText(/Gauge BG-1 is out of use: its readings are taken/).waitFor();
    await button(page, "Read").click();
    await button(page, "Close").click();
    const record = await recordOf(plant, "T-0002");
    expect(record).toMatchObject({ state: "measured", inspections: [{ verdict: "conforms" }] });
    await page.getByText("BG-1").first().waitFor({ state: "detached", timeout: 40_000 });
    await context.close();
  });
});
