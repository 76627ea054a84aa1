import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { FIRST_LOAD_BYTES, FIRST_LOAD_PROBE, firstLoadBytes } from "../helpers/first-load";
import {
  besideApplication,
  button,
  createShiftPlant,
  key,
  signedInAt,
  signIn,
  waitUntilKept,
} from "../helpers/line-shift";

const { browser, base } = besideApplication();
const PART_MS = 4000;
/** Words that only the part of the program with that screen has. */
const KEYING = "Drawing and readings";
const ZERO_CHECK = "setting ring, certified";

/** A station without a worker, to which the parts with these words come late. */
async function stationWithLate(parts: readonly string[]) {
  const plant = await createShiftPlant(4);
  const context = await browser().newContext({ viewport: { width: 1280, height: 800 }, serviceWorkers: "block" });
  await signIn(context, base(), plant.ada.email);
  const page = await context.newPage();
  let held = 0;
  await page.route("**/_next/static/chunks/*.js", async (route) => {
    const response = await route.fetch();
    const body = await response.text();
    if (parts.some((words) => body.includes(words))) {
      held += 1;
      await new Promise((done) => setTimeout(done, PART_MS));
    }
    await route.fulfill({ response, body });
  });
  await page.goto(`${base()}/line`);
  await button(page, /^Station 1/).click();
  await page.getByLabel("Serial, batch or badge").waitFor();
  return { plant, page, context, held: () => held };
}

const field = (page: Page) => page.locator("#reading");
const heading = (page: Page, name: string) => page.getByRole("heading", { name, exact: true });

describe("the first load of Line", () => {
  it("stays under 200 kB of script, and what comes later lies on the device for a start without the network", async () => {
    const plant = await createShiftPlant(4);
    const { page, context } = await signedInAt(browser(), base(), plant.ada);
    await page.close();
    await context.addInitScript(FIRST_LOAD_PROBE);
    const first = await context.newPage();
    await first.goto(`${base()}/line`);
    await button(first, /^Station 1/).click();
    await first.getByLabel("Serial, batch or badge").waitFor();
    await expect.poll(async () => (await firstLoadBytes(first)).later, { timeout: 20_000 }).toBeGreaterThan(0);
    expect((await firstLoadBytes(first)).first).toBeLessThan(FIRST_LOAD_BYTES);
    await waitUntilKept(first);
    const missing = await first.evaluate(async () => {
      const loaded = performance.getEntriesByType("resource").map(({ name }) => new URL(name).pathname);
      const program = loaded.filter((name) => /^\/_next\/static\/.*\.(js|css)$/.test(name));
      const kept = await Promise.all(program.map(async (name) => (await caches.match(name)) !== undefined));
      return program.filter((_, at) => !kept[at]);
    });
    expect(missing).toEqual([]);
    await context.close();
  });

  it("loses no key while a screen is on its way: scan and numbers typed at once are all taken", async () => {
    const { page, context, held } = await stationWithLate([KEYING]);
    await key(page, "T-0001");
    await page.getByRole("region", { name: "Zero check" }).waitFor();
    await key(page, "40.9752");
    await heading(page, "Frame T-0001").waitFor();
    await key(page, "40.975");
    await page.keyboard.type("40.98");
    await page.keyboard.press("Backspace");
    await page.getByText("Typed so far: 40.9").waitFor();
    await page.getByText("reading 2 of 28").waitFor();
    expect(await field(page).inputValue()).toBe("40.9");
    await page.keyboard.type("74");
    await page.keyboard.press("Enter");
    await page.getByText("reading 3 of 28").waitFor();
    await page
      .getByRole("button", { name: /40\.974/ })
      .first()
      .waitFor();
    expect(held()).toBeGreaterThan(0);
    await context.close();
  });

  it("takes what is typed at a zero check on its way, and nothing that was typed before it was asked for", async () => {
    const { page, context, held } = await stationWithLate([ZERO_CHECK]);
    await button(page, "Check it now").click();
    await heading(page, "Zero check of BG-1").waitFor();
    await page.keyboard.type("40.97");
    await page.getByText("Typed so far: 40.97").waitFor();
    await page.getByRole("region", { name: "Zero check" }).waitFor();
    expect(await field(page).inputValue()).toBe("40.97");
    await page.keyboard.press("Escape");
    // A number behind the scan, as a gauge sends it, while the check is due: it would pass for what the gauge shows.
    await page.getByLabel("Serial, batch or badge").waitFor();
    await page.route("**/api/v1/line/leases", async (route) => {
      await new Promise((done) => setTimeout(done, 1000));
      await route.continue();
    });
    await key(page, "T-0001");
    await key(page, "40.975");
    await page.getByText(/“40.975” was typed before this check was shown/).waitFor();
    await key(page, "40.9752");
    await page.getByText("reading 1 of 28").waitFor();
    expect(held()).toBeGreaterThan(0);
    await context.close();
  });
});
