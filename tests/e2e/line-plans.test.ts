import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { fullPlan, plugsAndBarPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import { addEvent } from "@/lib/server/events/commands";
import {
  atStation,
  besideApplication,
  button,
  createShiftPlant,
  goodTexts,
  key,
  keyAll,
  recordOf,
  SHIFT_PASSWORD,
  type ShiftPlant,
  signedInAt,
  startFrame,
} from "../helpers/line-shift";
import { axeViolations } from "../helpers/signed-in";

const { browser, base } = besideApplication();
const heading = (page: Page, name: string) => page.getByRole("heading", { name, exact: true });

/** What is heard from here on, Hz, until the page is loaded anew. */
async function listen(page: Page): Promise<() => Promise<number[]>> {
  await page.evaluate(() => {
    const heard: number[] = [];
    Object.assign(globalThis, { heard });
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (this: OscillatorNode, when?: number) {
      heard.push(this.frequency.value);
      start.call(this, when);
    };
  });
  return () => page.evaluate(() => (globalThis as unknown as { heard: number[] }).heard);
}

/** A plug in each seat, the bar, a closed sweep, a face, a width. */
const WORDS = [
  "ds.plug.40.95",
  "nds.plug.40.95",
  "bar.A",
  "ds.bore.8@12-6",
  "nds.bore.8@12-6",
  ...[0, 90, 180, 270, 360].map((angle) => `nds.sweep.8@${angle}`),
  "ds.face@0",
  "ds.face@90",
  "ds.face@180",
  "ds.face@270",
  "width@12",
];

describe("a plan with everything in it", () => {
  it("is keyed by number keys and Enter alone: feel, passage with its clock position, a sweep that closes", async () => {
    const plant = await createShiftPlant(3);
    await plant.releasePlan({ readingNames: WORDS });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    const heard = await listen(page);
    await startFrame(page, "T-0001");
    // The zero check is asked for, and passes: the very first answers are heard, too.
    await expect.poll(heard).toEqual([520, 520, 880]);
    await button(page, /hand pressure/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await key(page, "2");
    await key(page, "1");
    // Stiff at five o'clock: the word, then the hour.
    await button(page, /stiff at/).waitFor();
    await key(page, "2");
    await page.getByLabel(/Clock position/).waitFor({ state: "attached" });
    await button(page, /^Not stiff/).click();
    await key(page, "2");
    await page.getByLabel(/Clock position/).waitFor({ state: "attached" });
    await key(page, "5");
    await keyAll(page, ["40.975", "40.9"]);
    // Looked at again, a reading shows its own worth, and Enter alone goes on with what is open.
    await button(page, "Take back").click();
    await button(page, "Take back").click();
    const panel = page.getByRole("region", { name: "Asked reading" });
    await panel.getByText("reading 4 of 15").waitFor();
    await panel.getByText("conforms", { exact: true }).waitFor();
    await page.keyboard.press("Enter");
    await page.getByText("reading 6 of 15").waitFor();
    await button(page, "Take back").click();
    await key(page, "40.975");
    await page.getByText("New is: 40.975 mm. Why is it corrected?").waitFor();
    // A gauge that goes on sending while the reason is asked chooses none by its digits, and is no reading either.
    await key(page, "12.5");
    await page.getByText("What a gauge or a scanner sent was not taken").waitFor();
    await page.waitForTimeout(200);
    await page.keyboard.press("1");
    await page.getByText("reading 6 of 15").waitFor();
    await keyAll(page, ["0", "4", "8", "4"]);
    await page.getByRole("img", { name: /^NDS, 8 mm deep.*4 readings, not closed yet/ }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await key(page, "1");
    await page.getByText("reading 11 of 15").waitFor();
    // A face reading that cannot be taken, with its reason by one key.
    await button(page, "Skip reading").click();
    await page.keyboard.press("3");
    await page.getByText("reading 12 of 15").waitFor();
    await keyAll(page, ["0", "2", "0", "86.5"]);
    await page.getByText("on the server", { exact: true }).waitFor();
    const [inspection] = (await recordOf(plant, "T-0001")).inspections;
    expect(inspection?.attributes).toMatchObject({
      plugs: { "ds.plug.40.95": "hand", "nds.plug.40.95": "slides" },
      bars: { "bar.A": { result: "stiff", clockDeg: 150 } },
      cannotReasons: { "ds.face@0": "paint or burr in the way" },
    });
    expect(inspection?.superseded).toMatchObject([{ value: 40.9, reason: "keyed wrongly" }]);
    expect(inspection?.readings.slice(5, 10).map(({ value }) => value)).toEqual([0, 4, 8, 4, 1]);
    await context.close();
  });

  it("gives a verdict from plugs and bars alone: what is felt decides, on Line, in the record and in Setup", async () => {
    const plant = await createShiftPlant(3);
    await plant.releasePlan({ readingNames: plugsAndBarPlan(PRESS_FIT_41).map(formatReadingName) });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    // Along, along, across, across in each seat: the small plug slides, the next enters by hand, no rod passes; both bars turn.
    const good = ["1", "2", "3", "3", "1", "2", "3", "3", "1", "1"];
    await startFrame(page, "T-0001");
    await page.getByText("DS plug 40.947").first().waitFor();
    // A word answers only what stood on the screen when it was struck.
    const feel = async (words: readonly string[], from = 1): Promise<void> => {
      for (const [place, word] of words.entries()) {
        await page.getByText(`reading ${from + place} of 10`).waitFor();
        await key(page, word);
      }
    };
    await feel(good.slice(0, 2));
    await page.getByText("DS rod 40.997").first().waitFor();
    await button(page, /will not pass/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await feel(good.slice(2), 3);
    await page.getByText("on the server", { exact: true }).waitFor();
    await page.getByText("DS size 40.953 to 40.997").first().waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await startFrame(page, "T-0002");
    await feel([...good.slice(0, 8), "3", "3"]);
    await page.getByText("on the server", { exact: true }).waitFor();
    await page
      .getByText(/bar A will not pass.*out of line/)
      .first()
      .waitFor();
    const [passed, rejected] = [await recordOf(plant, "T-0001"), await recordOf(plant, "T-0002")];
    expect(passed.judgement?.verdict).toBe("conforms");
    expect(rejected).toMatchObject({ state: "held", judgement: { verdict: "does not conform" } });
    await context.close();
    const office = await signedInAt(browser(), base(), plant.engineer);
    await office.page.goto(`${base()}/frames/T-0002`);
    await office.page
      .getByText(/bar A will not pass.*out of line/)
      .first()
      .waitFor();
    expect(await axeViolations(office.page)).toEqual([]);
    await office.page.goto(`${base()}/setup/plans/new?drawing=${plant.drawingRevisionId}`);
    await button(office.page, "Plugs and bars").click();
    await office.page.getByText("bounds: proves both ways").first().waitFor();
    await office.page.getByText("10 readings").first().waitFor();
    expect(await axeViolations(office.page)).toEqual([]);
    await office.context.close();
  });

  it("takes deviations from the ring and indicators in mm, seen from the other side, with a comma", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await page.getByRole("radio", { name: "± ring" }).click({ force: true });
    await page
      .getByRole("radiogroup", { name: "Indicators show" })
      .getByRole("radio", { name: "mm" })
      .click({ force: true });
    await page.getByRole("radio", { name: "40,9" }).click({ force: true });
    await page
      .getByRole("radiogroup", { name: "I stand at the" })
      .getByRole("radio", { name: "NDS", exact: true })
      .click({ force: true });
    await page.getByRole("radiogroup", { name: "Sound" }).getByRole("radio", { name: "off" }).click({ force: true });
    const muted = page.getByRole("radiogroup", { name: "Sound" }).getByRole("radio", { name: "off" });
    await expect.poll(() => muted.isChecked()).toBe(true);
    await page.reload();
    await page.getByLabel("Serial, batch or badge").waitFor();
    expect(await muted.isChecked()).toBe(true);
    const heard = await listen(page);
    // A scan arrives also where a choice has the focus.
    await muted.focus();
    await key(page, "T-0001");
    await page.getByText("Show BG-1 its ring").waitFor();
    await key(page, "0,0002");
    await page.getByText("± ring, reading 1 of 28").waitFor();
    // The gauge was switched to sizes: not 40.97 mm above its ring.
    await key(page, "40,971");
    await page.getByText("Meant 40,971 mm?").waitFor();
    await page.getByText("As a deviation from the ring it would be 81,9462 mm.").waitFor();
    await key(page, "-0,0002");
    await button(page, /40,975, go to this reading$/).waitFor();
    await keyAll(page, ["+0,0008", ...Array.from({ length: 10 }, () => "0")]);
    // The axis 4 µm off towards 3 o'clock, at both depths.
    const turned = ["0", "0,003", "0,004", "0,003", "0", "-0,003", "-0,004", "-0,003"];
    await keyAll(page, [...turned, ...turned]);
    await page.getByText("on the server", { exact: true }).waitFor();
    expect(await heard()).toEqual([]);
    const [inspection] = (await recordOf(plant, "T-0001")).inspections;
    expect(inspection?.readings.map(({ value }) => value)).toEqual([
      ...[40.975, 40.976, ...Array.from({ length: 10 }, () => 40.9752)],
      ...[0, 3, 4, 3, 0, -3, -4, -3],
      ...[0, 3, 4, 3, 0, -3, -4, -3],
    ]);
    await context.close();
  });
});

describe("which frames the plan asks for", () => {
  it("counts a drawn sample, and marks a frame outside it that is measured all the same", async () => {
    const plant = await createShiftPlant(8);
    await plant.releasePlan({ frames: { kind: "drawn", size: 3 } });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await page.getByText("3 left, 3\u00a0frames drawn").waitFor();
    const outside = await page.getByText("outside the plan").count();
    expect(outside).toBe(5);
    const serial = await page
      .getByRole("listitem")
      .filter({ hasText: "outside the plan" })
      .locator(".mono")
      .first()
      .innerText();
    await startFrame(page, serial);
    await page.getByText(", outside the plan").waitFor();
    await keyAll(page, goodTexts(plant.names.map(formatReadingName)));
    await page.getByText("on the server", { exact: true }).waitFor();
    await button(page, "Batch").click();
    await page.getByText("3 left, 3\u00a0frames drawn").waitFor();
    expect((await recordOf(plant, serial)).inspections[0]?.attributes).toMatchObject({ outsidePlan: true });
    await context.close();
  });
});

describe("the first-off", () => {
  it("is asked in full, and the line waits until an engineer has released it", async () => {
    const plant = await createShiftPlant(4);
    const readingNames = fullPlan(PRESS_FIT_41).map(formatReadingName);
    await plant.releasePlan({ key: "FULL", title: "Full plan", revision: "1", readingNames });
    await plant.releasePlan({ settings: { firstOff: { each: "shift", starts: ["00:00"], plan: "FULL" } } });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await page.getByText("The next frame is the first-off: it is measured in full").waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await startFrame(page, "T-0001");
    await page.getByText("first-off, measured in full").waitFor();
    await page.getByText(`reading 1 of ${readingNames.length}`).waitFor();
    await keyAll(page, goodTexts(readingNames));
    await heading(page, "First-off: call the engineer").waitFor();
    await page.getByText("on the server", { exact: true }).waitFor();
    await key(page, "T-0002");
    await heading(page, "The line waits for an engineer").waitFor();
    expect(await axeViolations(page)).toEqual([]);

    const engineer = await signedInAt(browser(), base(), plant.engineer);
    await engineer.page.goto(`${base()}/setup/first-off`);
    await engineer.page.getByLabel("reason", { exact: true }).fill("sizes in the middle of the limits");
    await engineer.page.getByLabel("your password signs").fill(SHIFT_PASSWORD);
    await button(engineer.page, "Release L1 on T-0001").click();
    await engineer.page.getByText(/by Eve Dunmore/).waitFor();
    await engineer.context.close();

    await button(page, "Look again").click();
    await page.getByText("reading 1 of 28").waitFor();
    expect((await recordOf(plant, "T-0001")).inspections[0]?.attributes).toMatchObject({ firstOff: true });
    await context.close();
  });
});

describe("the first-off after an event", () => {
  it("is asked of the next frame where a tool was changed while one was measured", async () => {
    const plant = await createShiftPlant(3);
    const readingNames = fullPlan(PRESS_FIT_41).map(formatReadingName);
    await plant.releasePlan({ key: "FULL", title: "Full plan", revision: "1", readingNames });
    await plant.releasePlan({ settings: { firstOff: { each: "event", plan: "FULL" } } });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    await page.getByText("reading 1 of 28").waitFor();
    const event = { id: uuidV7(), kind: "reamer changed", at: new Date().toISOString(), text: "new reamer" } as const;
    await addEvent(plant.engineer, event);
    await keyAll(page, goodTexts(plant.names.map(formatReadingName)));
    await page.getByText("on the server", { exact: true }).waitFor();
    await button(page, "Batch").click();
    // Sooner than by the clock, which comes round every 20 s.
    await page.getByText("The next frame is the first-off").waitFor({ timeout: 15_000 });
    await key(page, "T-0002");
    await page.getByText("first-off, measured in full").waitFor();
    await page.getByText(`reading 1 of ${readingNames.length}`).waitFor();
    await context.close();
  });
});

describe("the end of a frame", () => {
  it("is judged together with its earlier inspections, says so, and does not send it to the good rack alone", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    const numbers = goodTexts(plant.names.map(formatReadingName));
    await startFrame(page, "T-0001");
    await keyAll(page, [...numbers.slice(0, 6).map(() => "40.93"), ...numbers.slice(6)]);
    await heading(page, "does not conform").waitFor();
    await page.getByText("on the server", { exact: true }).waitFor();
    await button(page, "Measure again").click();
    await heading(page, "Frame T-0001 was measured before").waitFor();
    await page.keyboard.press("3");
    await page.getByText("reading 1 of 28").waitFor();
    await keyAll(page, numbers);
    // No good reading takes back what the first one proved.
    await page.getByText("this one alone is “conforms”").waitFor();
    await heading(page, "does not conform").waitFor();
    expect(await page.getByText("Why it conforms").count()).toBe(0);
    await page.getByText("DS size 40.930 mm").first().waitFor();
    expect(await axeViolations(page)).toEqual([]);
    // The next one conforms, in a batch that is held for the first.
    await startFrame(page, "T-0002");
    await keyAll(page, numbers);
    await page.getByText("Batch T-BATCH is held: until somebody has decided, its frames cannot ship.").waitFor();
    await context.close();
  });

  it("prints a label, says where and by whom it is withdrawn, and the next scan starts the next frame", async () => {
    const plant = await createShiftPlant(3);
    const { page, context } = await atStation(browser(), base(), plant.ada);
    await startFrame(page, "T-0001");
    const numbers = goodTexts(plant.names.map(formatReadingName));
    await button(page, "More").click();
    await button(page, "Write a remark").click();
    await page.getByLabel("What else is to be said about this frame").fill("scratch near the DS face");
    await button(page, "Keep remark").click();
    await keyAll(page, [...numbers.slice(0, 6).map(() => "40.9"), ...numbers.slice(6)]);
    await heading(page, "does not conform").waitFor();
    await page.getByText("on the server", { exact: true }).waitFor();
    await page.emulateMedia({ media: "print" });
    await page.locator("section[aria-hidden=true] svg path").first().waitFor();
    expect(await page.locator("section[aria-hidden=true]").innerText()).toMatch(
      /T-0001[\s\S]*does not conform[\s\S]*T-BATCH/,
    );
    await page.emulateMedia({ media: null });
    await button(page, "How to withdraw").click();
    await page.getByText(/Not on the device that recorded it, and not by anyone who took its readings/).waitFor();
    await button(page, "Understood").click();
    await context.close();

    const engineer = await atStation(browser(), base(), plant.engineer);
    await key(engineer.page, "D1");
    await engineer.page.getByText("Ada Brook measures now.").waitFor();
    await startFrame(engineer.page, "T-0002");
    await keyAll(engineer.page, numbers);
    await engineer.page.getByText("on the server", { exact: true }).waitFor();
    await key(engineer.page, "T-0003");
    await engineer.page.getByText("reading 1 of 28").waitFor();
    const record = await recordOf(plant, "T-0002");
    expect(record).toMatchObject({ state: "measured", inspections: [{ inspector: "Ada Brook", withdrawal: null }] });
    expect((await recordOf(plant, "T-0001")).inspections[0]?.attributes).toMatchObject({
      remark: "scratch near the DS face",
    });
    await engineer.context.close();
  });
});
