import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { APP_PAGES, routesWithPages } from "../helpers/app-pages";
import { keysOffTheScreen, layoutFaults, lengthenTexts } from "../helpers/layout-faults";
import { SIGHTS, walkPages } from "../helpers/layout-walk";
import { atStation, besideApplication, button, createShiftPlant, key, startFrame } from "../helpers/line-shift";

const { browser, base } = besideApplication();

describe("the layout of every page", () => {
  it("is looked at: each route with a page has its address here", () => {
    expect(Object.keys(APP_PAGES).toSorted()).toEqual(routesWithPages());
  });

  it("cuts, wraps and overlaps nothing on a phone and at 1024, with texts 35 % longer too, and is accessible", async () => {
    expect(await walkPages(browser(), base(), { widths: [390, 1024], sights: SIGHTS, every: false })).toEqual([]);
  });
});

/** Faults of Line at the two sizes of tablets and station PCs; nothing there may have to be scrolled to. */
async function stationFaults(page: Page, name: string): Promise<string[]> {
  const faults: string[] = [];
  for (const viewport of [
    { width: 1024, height: 768 },
    { width: 1280, height: 800 },
  ]) {
    await page.setViewportSize(viewport);
    await page.waitForTimeout(100);
    const found = [...(await keysOffTheScreen(page)), ...(await layoutFaults(page))];
    faults.push(...found.map((fault) => `${name} at ${viewport.width}x${viewport.height}: ${fault}`));
  }
  return faults;
}

describe("the screens of Line", () => {
  it("show every key at 1024x768 and 1280x800: keypad for bores, sweeps and faces, and the verdict", async () => {
    const plant = await createShiftPlant(3);
    const names = fullPlan(PRESS_FIT_41);
    await plant.releasePlan({ readingNames: names.map(formatReadingName) });
    const { page, context } = await atStation(browser(), base(), plant.ada);
    const faults: string[] = [];
    await startFrame(page, "T-0001");
    const openKeypad = async (title: RegExp): Promise<void> => {
      await page.getByRole("heading", { level: 1, name: title }).waitFor();
      if ((await page.getByRole("group", { name: "Keypad" }).count()) === 0) await button(page, "Keypad").click();
      await page.getByRole("group", { name: "Keypad" }).waitFor();
    };
    await openKeypad(/seat/);
    faults.push(...(await stationFaults(page, "bore with keypad")));
    for (const [place, { kind }] of names.entries()) {
      const isFirst = names.findIndex((one) => one.kind === kind) === place;
      if (isFirst && kind !== "bore") {
        await openKeypad(kind === "sweep" ? /sweep/ : kind === "face" ? /face/ : /width/);
        faults.push(...(await stationFaults(page, `${kind} with keypad`)));
      }
      await key(page, kind === "bore" ? "40.975" : kind === "width" ? "86.5" : "0");
    }
    await page.getByText("on the server", { exact: true }).waitFor();
    faults.push(...(await stationFaults(page, "verdict")));
    await lengthenTexts(page);
    faults.push(...(await layoutFaults(page)).map((fault) => `verdict, longer words: ${fault}`));
    expect(faults).toEqual([]);
    await context.close();
  });
});
