import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { DEMO_PASSWORD } from "@/lib/schemas/demo-sign-ins";
import { launchBrowser } from "../helpers/browser";
import { axeViolations, signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");

async function heldBatch(page: Page): Promise<string> {
  await page.goto(`${base()}/gate?state=held`);
  const link = page.locator("tbody th a").first();
  const key = await link.innerText();
  await link.click();
  await page.waitForURL(`${base()}/gate/batches/${key}`);
  return key;
}

describe("the gate", () => {
  it("shows held batches with their reasons in numbers, and signs a return with the keyboard alone", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await heldBatch(page);
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toBe("Held");
    const reasons = await page.locator("ol li").allInnerTexts();
    expect(reasons.some((text) => /does not conform in \d+ of \d+ frames: worst .* limit .*, U /.test(text))).toBe(
      true,
    );

    await page.getByLabel("grounds").focus();
    await page.keyboard.type("Off the axis by more than the uncertainty");
    await page.keyboard.press("Tab");
    await page.keyboard.type("not my password");
    await page.keyboard.press("Enter");
    await page.getByText("That is not your password: nothing was signed and nothing was changed.").waitFor();

    const before = await page.locator("text=returned").count();
    await page.getByLabel("your password, as signature").fill(DEMO_PASSWORD);
    await page.keyboard.press("Enter");
    await page.getByText("Signed and recorded in the journal.").waitFor();
    await page.getByText("return to supplier", { exact: true }).first().waitFor();
    expect(await page.locator("text=returned").count()).toBeGreaterThan(before);
    await context.close();
  });

  it("lets an inspector look but not decide, and ship nothing", async () => {
    const { context, page } = await signedIn(browser, base(), "inspector");
    await heldBatch(page);
    expect(await page.getByLabel("your password, as signature").count()).toBe(0);
    await page.goto(`${base()}/gate/ship`);
    await page.getByText("Only the dock ships").waitFor();
    await context.close();
  });

  it("answers the dock go and stop, and does not ship twice", async () => {
    const manager = await signedIn(browser, base(), "supplier_manager");
    await manager.page.goto(`${base()}/gate?state=clear`);
    await manager.page.locator("tbody th a").first().click();
    await manager.page.getByRole("heading", { name: "May ship" }).waitFor();
    const serial =
      (await manager.page.locator("li a[title$=': conforms']").first().getAttribute("title"))?.split(":")[0] ?? "";
    await heldBatch(manager.page);
    const held = (await manager.page.locator("li a[title*=': ']").first().getAttribute("title"))?.split(":")[0] ?? "";
    await manager.context.close();

    const { context, page } = await signedIn(browser, base(), "dock", { viewport: { width: 390, height: 844 } });
    await page.goto(`${base()}/gate/ship`);
    const scan = async (text: string): Promise<string> => {
      await page.getByLabel("serial").fill(text);
      await page.keyboard.press("Enter");
      const word = await page.getByRole("heading", { level: 1, name: /^(Go|Stop)$/ }).innerText();
      expect(await axeViolations(page)).toEqual([]);
      await page.keyboard.press("Enter");
      await page.getByText("May this frame ship?").waitFor();
      return word;
    };
    expect(await scan(serial)).toBe("Go");
    expect(await scan(serial)).toBe("Stop");
    expect(await scan(held)).toBe("Stop");
    expect(await scan("NO-SUCH-FRAME")).toBe("Stop");
    await context.close();
  });

  it("finds a frame from anywhere by / and shows its record", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/setup`);
    await page.keyboard.press("/");
    await page.keyboard.type("C41-01000");
    await page.keyboard.press("Enter");
    await page.waitForURL(`${base()}/frames/C41-01000`);
    await page.getByText("What this means").waitFor();
    await page.getByText("Inspection 1, after machining").first().waitFor();
    await context.close();
  });

  it.each(["light", "dark"] as const)("breaks no rule of accessibility, %s", async (colorScheme) => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager", {
      viewport: { width: 1280, height: 800 },
      colorScheme,
    });
    const broken: string[] = [];
    for (const path of ["/", "/gate", "/setup", "/setup/journal", "/search?q=C41", "/frames/C41-01000"]) {
      await page.goto(`${base()}${path}`);
      broken.push(...(await axeViolations(page)).map((rule) => `${path} ${rule}`));
    }
    await heldBatch(page);
    broken.push(...(await axeViolations(page)).map((rule) => `batch ${rule}`));
    await page.goto(`${base()}/setup`);
    await page.locator("a[href^='/setup/drawings/']").first().click();
    await page.waitForURL(/drawings/);
    broken.push(...(await axeViolations(page)).map((rule) => `drawing ${rule}`));
    expect(broken).toEqual([]);
    await context.close();
  });
});
