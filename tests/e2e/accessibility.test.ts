import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { openHeldBatch } from "../helpers/held-batch";
import { sightFaults } from "../helpers/layout-walk";
import { signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");
/** What the walk of all pages does not see of them (layout.test.ts): who sees less, what is empty, forms and states. */
const OTHERS = [
  {
    role: "auditor",
    paths: ["/gate?state=gone", "/search?q=no-such-thing", "/nowhere", "/setup/plant", "/setup/gauges"],
  },
  {
    role: "engineer",
    paths: [
      "/setup/plant/operation/after-machining",
      "/setup/plant/station/C41-M",
      "/setup/plant/supplier/BT",
      "/setup/plant/model/moorlark-c",
    ],
  },
  { role: "administrator", paths: ["/gate", "/"] },
  { role: "dock", paths: ["/"] },
] as const;

describe("what not everybody sees of a page", () => {
  it("breaks no rule of accessibility and fits on desk and phone", async () => {
    const faults: string[] = [];
    for (const { role, paths } of OTHERS) {
      const { context, page } = await signedIn(browser, base(), role);
      for (const path of paths) {
        await page.goto(`${base()}${path}`);
        faults.push(...(await sightFaults(page, `${path} for ${role}`)));
      }
      await context.close();
    }
    const { context, page } = await signedIn(browser, base(), "auditor");
    await openHeldBatch(page, base());
    faults.push(...(await sightFaults(page, "held batch for auditor")));
    await context.close();
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
