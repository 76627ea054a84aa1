import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { openHeldBatch } from "../helpers/held-batch";
import { axeViolations, signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");
const PAGES = [
  "/",
  "/gate",
  "/gate?state=gone",
  "/gate/ship",
  "/line",
  "/drift",
  "/drift/target/C41",
  "/setup",
  "/setup/plant",
  "/setup/plant/line/C41",
  "/setup/gauges",
  "/setup/gauges/BG-03",
  "/setup/gauges/rings/RG-41-1",
  "/setup/batches",
  "/setup/first-off",
  "/setup/devices",
  "/setup/jobs",
  "/setup/journal",
  "/setup/password",
  "/search?q=C41",
  "/search?q=no-such-thing",
  "/frames/C41-01000",
  "/nowhere",
];
/** What an engineer changes: the same pages with their forms. */
const CHANGING = [
  "/setup/plant",
  "/setup/plant/line/C41",
  "/setup/plant/operation/after-machining",
  "/setup/plant/station/C41-M",
  "/setup/plant/supplier/BT",
  "/setup/plant/model/moorlark-c",
  "/setup/gauges",
  "/setup/gauges/BG-03",
  "/setup/gauges/rings/RG-41-1",
];
const SIZES = [
  { width: 1440, height: 900 },
  { width: 1024, height: 768 },
  { width: 390, height: 844 },
];
const THEMES = ["light", "dark"] as const;
/** Each size and each theme; npm run test:long looks at every size in both. */
const SIGHTS = SIZES.flatMap((size, place) =>
  THEMES.filter((_, theme) => process.env.EVERY_SIGHT === "1" || theme === place % 2).map((colorScheme) => ({
    ...size,
    colorScheme,
  })),
);

/** Pixels by which the page is wider than the window: people would have to push it sideways. */
const overflowOf = (page: Page): Promise<number> =>
  page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

/** Names of tables with more to their right than the phone shows; a wider window may scroll them. */
const cutTables = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    innerWidth > 600
      ? []
      : [...document.querySelectorAll("[role=region]:has(> table)")]
          .filter((region) => region.scrollWidth > region.clientWidth)
          .map(
            (region) =>
              `${region.getAttribute("aria-label")} is ${region.scrollWidth - region.clientWidth} px too wide`,
          ),
  );

async function faultsOf(page: Page, name: string): Promise<string[]> {
  await page.locator("h1").first().waitFor();
  const overflow = await overflowOf(page);
  const faults = [...(await axeViolations(page)), ...(await cutTables(page))].map((fault) => `${name}: ${fault}`);
  return overflow > 0 ? [...faults, `${name}: ${overflow} px too wide`] : faults;
}

/** Where an engineer drafts, revises and compares; the newest drawing and plan stand for all. */
async function draftingPages(page: Page): Promise<string[]> {
  await page.goto(`${base()}/setup`);
  const first = async (kind: "drawings" | "plans"): Promise<string> =>
    (await page.locator(`a[href^='/setup/${kind}/']:not([href$='/new'])`).first().getAttribute("href")) ?? "";
  const [drawing, plan] = [await first("drawings"), await first("plans")];
  const made = [`${drawing}/edit`, `${drawing}/compare`, plan, `${plan}/edit`];
  return ["/setup/drawings/new", `/setup/plans/new?drawing=${drawing.split("/").at(-1) ?? ""}`, ...made];
}

describe("every page", () => {
  it.each(SIGHTS)("breaks no rule of accessibility and fits at $width x $height, $colorScheme", async (sight) => {
    const { colorScheme, ...viewport } = sight;
    const { context, page } = await signedIn(browser, base(), "auditor", { viewport, colorScheme });
    const faults: string[] = [];
    for (const path of PAGES) {
      await page.goto(`${base()}${path}`);
      faults.push(...(await faultsOf(page, path)));
    }
    await openHeldBatch(page, base());
    faults.push(...(await faultsOf(page, "held batch")));
    await page.goto(`${base()}/setup`);
    await page.locator("a[href^='/setup/drawings/']").first().click();
    await page.waitForURL(/drawings/);
    faults.push(...(await faultsOf(page, "drawing")));
    await context.close();

    const drafting = await signedIn(browser, base(), "engineer", { viewport, colorScheme });
    for (const path of [...CHANGING, ...(await draftingPages(drafting.page))]) {
      expect((await drafting.page.goto(`${base()}${path}`))?.status(), path).toBe(200);
      faults.push(...(await faultsOf(drafting.page, path)));
    }
    await drafting.context.close();

    const staff = await signedIn(browser, base(), "administrator", { viewport, colorScheme });
    await staff.page.goto(`${base()}/setup/people`);
    await staff.page.getByRole("link", { name: "Jette Ostrand" }).click();
    await staff.page.getByRole("heading", { level: 1, name: "Jette Ostrand" }).waitFor();
    faults.push(...(await faultsOf(staff.page, "a person")));
    await staff.context.close();

    const others = [
      { role: "administrator", path: "/setup/people" },
      { role: "administrator", path: "/gate" },
      { role: "dock", path: "/gate/ship" },
      { role: "dock", path: "/" },
    ] as const;
    for (const { role, path } of others) {
      const other = await signedIn(browser, base(), role, { viewport, colorScheme });
      await other.page.goto(`${base()}${path}`);
      faults.push(...(await faultsOf(other.page, `${path} for ${role}`)));
      await other.context.close();
    }
    expect(faults).toEqual([]);
  });
});

describe("without a mouse", () => {
  it("shows where the focus is on every stop of the first twenty", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await openHeldBatch(page, base());
    for (let stop = 0; stop < 20; stop += 1) {
      await page.keyboard.press("Tab");
      const seen = await page.evaluate(() => {
        const element = document.activeElement;
        if (element === null || element === document.body) return { what: "nothing", outline: 0 };
        const { outlineStyle, outlineWidth } = getComputedStyle(element);
        return {
          what: element.outerHTML.slice(0, 100),
          outline: outlineStyle === "none" ? 0 : Number.parseFloat(outlineWidth),
        };
      });
      expect(seen, `stop ${stop}: ${seen.what}`).toMatchObject({ outline: expect.any(Number) });
      expect(seen.outline, seen.what).toBeGreaterThanOrEqual(2);
    }
    await context.close();
  });

  it("jumps over the rail to what the page is about", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/setup`);
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    expect(new URL(page.url()).hash).toBe("#main");
    await context.close();
  });
});

describe("on paper", () => {
  it("prints a batch without the rail and the place to sign", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await openHeldBatch(page, base());
    await page.emulateMedia({ media: "print" });
    expect(await page.getByRole("navigation").first().isVisible()).toBe(false);
    expect(await page.getByLabel("your password, as signature").isVisible()).toBe(false);
    expect(await page.getByRole("heading", { level: 1, name: "Held" }).isVisible()).toBe(true);
    await context.close();
  });
});
