import { readFileSync } from "node:fs";
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import {
  atStation,
  besideApplication,
  button,
  createShiftPlant,
  goodTexts,
  key,
  keyAll,
  recordOf,
  RING_MM,
  type ShiftPlant,
  signIn,
  startFrame,
  waitUntilKept,
} from "../helpers/line-shift";
import { axeViolations } from "../helpers/signed-in";

const { browser, base } = besideApplication();
const heading = (page: Page, name: string | RegExp) =>
  page.getByRole("heading", { name, exact: typeof name === "string" });
const reading = (page: Page, number: number) => page.getByText(`reading ${number} of 28`);

/** A photo as a camera writes it: with the place in its data. Source: Exif 2.3, segment APP1 after SOI. */
async function cameraPhoto(page: Page): Promise<Buffer> {
  const drawn = await page.evaluate(() => {
    const canvas = document.createElement("canvas");
    canvas.width = 2400;
    canvas.height = 1800;
    const context = canvas.getContext("2d");
    for (let at = 0; at < 400; at += 1) {
      if (context) context.fillStyle = `hsl(${(at * 47) % 360} 60% 50%)`;
      context?.fillRect((at * 131) % 2400, (at * 89) % 1800, 180, 140);
    }
    return canvas.toDataURL("image/jpeg", 0.95);
  });
  const jpeg = Buffer.from(drawn.slice(drawn.indexOf(",") + 1), "base64");
  const exif = Buffer.from("Exif\0\0GPSLatitude 48.2 N GPSLongitude 16.3 E", "latin1");
  const head = Buffer.from([0xff, 0xe1, 0, exif.length + 2]);
  return Buffer.concat([jpeg.subarray(0, 2), head, exif, jpeg.subarray(2)]);
}

const states = async (plant: ShiftPlant) => {
  const { rows } = await getPool().query<{ serial: string; state: string }>(sql`
    select serial, state::text as state from frame where plant_id = ${plant.plantId} order by serial`);
  return Object.fromEntries(rows.map(({ serial, state }) => [serial, state]));
};

describe("a shift at the station", () => {
  it("works through a cut network, a slip, a mis-scan, a photo, a change of inspector and a gauge that was knocked", async () => {
    const plant = await createShiftPlant(5);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    const numbers = goodTexts(plant.names.map(formatReadingName));
    await waitUntilKept(page);

    // The zero check is due at the start of the shift and comes before the first frame.
    await page.getByText(/Zero check of BG-1 is due/).waitFor();
    await key(page, "T-0001");
    await page.getByText("RG-41, certified 40.9752 mm; it may show 40.9722 to 40.9782 mm").waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await key(page, "409755");
    await page.getByText("Meant 40.9755 mm?").waitFor();
    await page.keyboard.press("Enter");
    await reading(page, 1).waitFor();

    // A comma, a gauge that ends with Tab, a missing sign, a value that is corrected with its reason.
    await key(page, "40,975");
    await page.keyboard.type("40.974");
    await page.keyboard.press("Tab");
    await key(page, "40975");
    await page.getByText("Meant 40.975 mm?").waitFor();
    await page.keyboard.press("Enter");
    await reading(page, 4).waitFor();
    await button(page, "Take back").click();
    await key(page, "40.971");
    await heading(page, /is kept already/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.keyboard.press("1");
    await reading(page, 4).waitFor();

    // The network goes; a wrong frame is scanned half way; Ben takes over with his badge.
    await context.setOffline(true);
    await key(page, "T-0002");
    await heading(page, "Frame T-0001 is not finished").waitFor();
    await button(page, "Go on with T-0001").click();
    await key(page, "D2");
    await page.getByText("Ben Carrow measures now.").waitFor();
    await button(page, "More").click();
    await page.locator("input[type=file]").setInputFiles({
      name: "seat.jpg",
      mimeType: "image/jpeg",
      buffer: await cameraPhoto(page),
    });
    await page.getByText("The photo is kept with frame T-0001.").waitFor();
    await keyAll(page, numbers.slice(3));
    await heading(page, "conforms").waitFor();
    await page.getByText("on this device, to be sent").waitFor();
    await page.getByText("Ada Brook, Ben Carrow").waitFor();

    // A reload without the network; the next frame; the gauge falls and is found out.
    await page.reload();
    await heading(page, "conforms").waitFor();
    await startFrame(page, "T-0002");
    await keyAll(page, numbers.slice(0, 2));
    await reading(page, 3).waitFor();
    await button(page, "More").click();
    await button(page, "BG-1 was knocked").click();
    await page.getByText("it was knocked").waitFor();
    await key(page, (RING_MM + 0.008).toFixed(4));
    await heading(page, "zero check failed").waitFor();
    await page.getByText("BG-1 shows RG-41 8.0 µm too large, limit ±3 µm").waitFor();
    await page.getByText(/This device measured 2.frames with it since: T-0001, T-0002/).waitFor();
    await page.getByText(/it waits on this device/).waitFor();
    // A scanner ends with Enter: it decides nothing here, and neither does the second Enter of a hasty hand.
    await page.keyboard.press("Enter");
    await key(page, "T-0003");
    await page.getByText(/“T-0003” is not taken here/).waitFor();
    await heading(page, "zero check failed").waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await button(page, "Go on with T-0002, with BG-2").click();
    // The other gauge has to be in order, too, before it takes a reading.
    await page.getByText("Show BG-2 its ring").waitFor();
    await key(page, RING_MM.toFixed(4));
    await reading(page, 3).waitFor();
    await keyAll(page, numbers.slice(2));
    await heading(page, "not proven").waitFor();
    await page
      .getByText(/gauge BG-1 was \+8\.0.µm off at its zero check/)
      .first()
      .waitFor();
    await startFrame(page, "T-0003");
    await keyAll(page, numbers);
    await heading(page, "conforms").waitFor();
    await page.getByText(/no network for/).waitFor();

    // Back in the network: everything once, in its order, and the server holds what rests on the gauge.
    await context.setOffline(false);
    await page.getByText("on the server", { exact: true }).waitFor({ timeout: 20_000 });
    await expect.poll(async () => (await states(plant))["T-0003"], { timeout: 20_000 }).toBe("measured");
    expect(await states(plant)).toMatchObject({ "T-0001": "held", "T-0002": "held", "T-0003": "measured" });
    const first = await recordOf(plant, "T-0001");
    const [inspection] = first.inspections;
    expect(inspection?.readings.map(({ inspector }) => inspector)).toEqual([
      ...Array<string>(3).fill("Ada Brook"),
      ...Array<string>(25).fill("Ben Carrow"),
    ]);
    expect(inspection?.superseded).toMatchObject([
      { index: 2, value: 40975, inspector: "Ada Brook" },
      { index: 2, value: 40.975, reason: "keyed wrongly", inspector: "Ada Brook" },
    ]);
    expect(inspection?.readings.slice(0, 3).map(({ value }) => value)).toEqual([40.975, 40.974, 40.971]);
    expect(first.judgement?.verdict).toBe("not proven");
    await expect.poll(async () => (await recordOf(plant, "T-0001")).inspections[0]?.photos.length).toBe(1);
    const photo = (await recordOf(plant, "T-0001")).inspections[0]?.photos[0] ?? "";
    const stored = await (await context.request.get(`${base()}/api/v1/attachments/${photo}`)).body();
    expect(stored.length).toBeLessThan(1_500_000);
    expect(stored.includes("GPS") || stored.includes("Exif")).toBe(false);
    const [second] = (await recordOf(plant, "T-0002")).inspections;
    expect(second?.readings.slice(0, 4).map(({ gauge }) => gauge)).toEqual(["BG-1", "BG-1", "BG-2", "BG-2"]);
    const { rows } = await getPool().query<{ occasion: string; drift: number; person: string }>(sql`
      select z.occasion, z.drift_um as drift, p.name as person from zero_check z
      join person p on p.plant_id = z.plant_id and p.id = z.person_id where z.plant_id = ${plant.plantId} order by z.at`);
    expect(rows).toMatchObject([
      { occasion: "shift start", drift: 0.3, person: "Ada Brook" },
      { occasion: "after a knock", drift: 8, person: "Ben Carrow" },
      { occasion: "shift start", drift: 0, person: "Ben Carrow" },
    ]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    await context.close();
  });

  it("keeps everything through signing out, and the readings stay with who took them", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await waitUntilKept(page);
    await startFrame(page, "T-0001");
    // The session ends at the server, as after hours without a request.
    await getPool().query(sql`
      delete from auth_session where user_id = (select user_id from person where plant_id = ${plant.plantId} and id = ${plant.ada.personId})`);
    await keyAll(page, goodTexts(plant.names.map(formatReadingName)));
    await heading(page, "conforms").waitFor();
    await page.getByText("signed out: sign in to send").waitFor();
    await startFrame(page, "T-0002");
    await key(page, "40.975");
    await reading(page, 2).waitFor();
    await signIn(context, base(), plant.ben.email);
    await page.reload();
    await reading(page, 2).waitFor();
    await expect
      .poll(async () => (await recordOf(plant, "T-0001")).inspections[0]?.inspector, { timeout: 20_000 })
      .toBe("Ada Brook");
    // Ben goes on with the frame that Ada began.
    await page.getByText("Ben Carrow").waitFor({ timeout: 60_000 });
    await keyAll(page, goodTexts(plant.names.map(formatReadingName)).slice(1));
    await heading(page, "conforms").waitFor();
    await expect.poll(async () => (await recordOf(plant, "T-0002")).inspections.length, { timeout: 20_000 }).toBe(1);
    const [second] = (await recordOf(plant, "T-0002")).inspections;
    expect(second?.readings.slice(0, 2).map(({ inspector }) => inspector)).toEqual(["Ada Brook", "Ben Carrow"]);
    // The page was kept on the device while Ada was signed in: it names who is now.
    await button(page, "Batch").click();
    expect(await page.getByRole("navigation").locator("summary").innerText()).toBe("Ben Carrow");
    await context.close();
  });

  it("stays at its station where another is asked for without the network", async () => {
    const plant = await createShiftPlant(2);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await waitUntilKept(page);
    await startFrame(page, "T-0001");
    await key(page, "40.975");
    await button(page, "More").click();
    await button(page, "Put the frame aside").click();
    await context.setOffline(true);
    await button(page, "Change station").click();
    await page.getByText(/This device stays at Station 1 until then/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.reload();
    await page.getByText("1 of 28 readings").waitFor();
    await button(page, "Change station").click();
    await button(page, /^Stay at Station 1/).click();
    await button(page, "Go on").click();
    await reading(page, 2).waitFor();
    await context.close();
  });

  it("starts again from a file on another device, once", async () => {
    const plant = await createShiftPlant(3);
    const one = await atStation(browser(), base(), plant.ada);
    await startFrame(one.page, "T-0001");
    await one.context.setOffline(true);
    await keyAll(one.page, goodTexts(plant.names.map(formatReadingName)));
    await heading(one.page, "conforms").waitFor();
    await one.page.getByText(/no network for/).click();
    const saved = one.page.waitForEvent("download");
    await button(one.page, "Save to a file").click();
    const buffer = readFileSync(await (await saved).path());
    const file = { name: "queue.json", mimeType: "application/json", buffer };
    await one.context.close();
    const two = await atStation(browser(), base(), plant.ben);
    await two.page.getByText("all readings sent").click();
    await two.page.getByLabel("Load from a file").setInputFiles(file);
    const said = two.page.getByRole("dialog").getByRole("status");
    await expect.poll(() => said.innerText()).toBe("1 of 1 in the file were loaded.");
    await expect.poll(async () => (await states(plant))["T-0001"], { timeout: 20_000 }).toBe("measured");
    await two.page.getByLabel("Load from a file").setInputFiles(file);
    await expect.poll(() => said.innerText()).toMatch(/^0 of 1 in the file were loaded/);
    expect((await recordOf(plant, "T-0001")).inspections).toMatchObject([{ inspector: "Ada Brook" }]);
    await two.context.close();
  });
});
