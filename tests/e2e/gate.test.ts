import type { Browser, Locator, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { DEMO_PASSWORD } from "@/lib/schemas/demo-sign-ins";
import { launchBrowser } from "../helpers/browser";
import { openHeldBatch } from "../helpers/held-batch";
import { axeViolations, signedIn } from "../helpers/signed-in";

/** More than the stops before the signature: the rail, the serials of the reasons, 40 frames, each of them again to choose. */
const MOST_TABS = 250;

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");

/** Goes on by Tab until the field with this label has the focus. */
const tabTo = (page: Page, label: string): Promise<void> => tabToThe(page, page.getByLabel(label, { exact: true }));

async function tabToThe(page: Page, field: Locator): Promise<void> {
  for (let presses = 0; presses < MOST_TABS; presses += 1) {
    if (await field.evaluate((element) => element === document.activeElement)) return;
    await page.keyboard.press("Tab");
  }
  throw new Error(`no way to ${String(field)} by Tab`);
}

describe("the gate", () => {
  it("shows held batches with their reasons in numbers, and signs a return with the keyboard alone", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await openHeldBatch(page, base(), /does not conform in \d+ of \d+ frames: worst .* limit .*, U /);
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toBe("Held");

    // Nothing is chosen before: no frame, no disposition, no cause.
    expect(await page.getByRole("checkbox", { checked: true }).count()).toBe(0);
    expect(await page.getByRole("radio", { checked: true }).count()).toBe(0);
    expect(await page.getByRole("button", { name: "Choose what is done" }).isDisabled()).toBe(true);
    await page
      .getByRole("region", { name: "Whose cause" })
      .getByText(/^The evidence /)
      .waitFor();
    expect(await axeViolations(page)).toEqual([]);
    const choose = async (): Promise<number> => {
      const all = page.getByRole("button", { name: "all that do not conform" });
      await page.getByRole("radio", { name: /Return to supplier/ }).focus();
      await page.keyboard.press("Space");
      await tabToThe(page, all);
      await page.keyboard.press("Enter");
      await tabToThe(page, page.getByRole("radio", { name: "the supplier’s" }));
      await page.keyboard.press("Space");
      // Where the evidence says that the cause is ours, a return asks why, whatever the signer says.
      const against = page.getByLabel("why they go back although the cause is ours");
      if ((await against.count()) > 0) await against.fill("they agreed to take them");
      return page.getByRole("checkbox", { checked: true }).count();
    };
    const chosen = await choose();
    expect(chosen).toBeGreaterThan(0);
    expect(await axeViolations(page)).toEqual([]);

    const returned = (): Promise<number> => page.locator("li a[title$=': returned']").count();
    const before = await returned();
    await tabTo(page, "reason");
    await page.keyboard.type("Off the axis by more than the uncertainty");
    await page.keyboard.press("Tab");
    await page.keyboard.type("not my password");
    await page.keyboard.press("Enter");
    await page.getByText("That is not your password: nothing was signed and nothing was changed.").waitFor();
    await page.reload();
    expect(await returned()).toBe(before);

    await choose();
    await tabTo(page, "reason");
    await page.keyboard.type("Off the axis by more than the uncertainty");
    await page.keyboard.press("Tab");
    await page.keyboard.type(DEMO_PASSWORD);
    await page.keyboard.press("Enter");
    await page.getByText("Signed and recorded in the journal.").waitFor();
    await page.getByText("return to supplier", { exact: true }).first().waitFor();
    await expect.poll(returned).toBe(before + chosen);

    // What was returned is a reason no more; others stand, or the batch waits for its own signature.
    const left = await page.locator("ol li").allInnerTexts();
    expect(left.filter((text) => text.includes("does not conform in"))).toEqual([]);
    const releaseKey = page.getByRole("radio", { name: /Release the batch/ });
    expect(await releaseKey.isDisabled()).toBe(left.length > 0);
    await context.close();
  });

  it("shows how weak a sampling plan is before the supplier manager signs one", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await page.goto(`${base()}/gate/sampling`);
    await page.getByRole("link", { name: "Orrin Composites" }).click();
    await page.getByRole("heading", { level: 1, name: /^Sampling of Orrin Composites/ }).waitFor();
    await page.getByLabel("by counting, ISO 2859-1").check();
    await page.getByLabel("AQL, percent").selectOption("1.5");
    await page.getByLabel("shown for a batch of").fill("50");
    // ISO 2859-1:1999 tables 1 and 2-A: a lot of 50 at level II is letter D, 8 with Ac 0.
    await page.getByText("Draw 8 of 50 frames at random; accept with 0 nonconforming frames or fewer").waitFor();
    await page.getByRole("img", { name: /^How often a lot is accepted/ }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel("shown for a batch of").fill("1");
    await page.getByText("A lot of one frame: nothing can be drawn of it, it is measured.").waitFor();
    // Every frame, as before: the other tests of this plant go on.
    await page.getByLabel("every frame").check();
    await page.getByLabel("reason", { exact: true }).fill("a new mould");
    await page.getByLabel("your password, as signature").fill(DEMO_PASSWORD);
    await page.getByRole("button", { name: "Sign, set the sampling" }).click();
    await page.getByText("Version 1 is in force: every frame.").waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await context.close();
  });

  it("answers the dock go and stop, and does not ship twice", async () => {
    const manager = await signedIn(browser, base(), "supplier_manager");
    await manager.page.goto(`${base()}/gate?state=clear`);
    await manager.page.locator("tbody th a").first().click();
    await manager.page.getByRole("heading", { name: "May ship" }).waitFor();
    const serial =
      (await manager.page.locator("li a[title$=': conforms']").first().getAttribute("title"))?.split(":")[0] ?? "";
    await openHeldBatch(manager.page, base());
    const held = (await manager.page.locator("li a[title*=': ']").first().getAttribute("title"))?.split(":")[0] ?? "";
    await manager.context.close();

    const { context, page } = await signedIn(browser, base(), "dock", { viewport: { width: 390, height: 844 } });
    await page.goto(`${base()}/gate/ship`);
    const scan = async (text: string): Promise<string> => {
      await page.getByLabel("serial").fill(text);
      await page.keyboard.press("Enter");
      const word = await page.getByRole("heading", { level: 1, name: /^(Go|Stop|Scan again)$/ }).innerText();
      expect(await axeViolations(page)).toEqual([]);
      await page.keyboard.press("Enter");
      await page.getByText("May this frame ship?").waitFor();
      return word;
    };
    expect(await scan(serial)).toBe("Go");
    expect(await scan(serial)).toBe("Stop");
    expect(await scan(held)).toBe("Stop");
    expect(await scan("NO-SUCH-FRAME")).toBe("Stop");

    // A serial one digit off stops nobody's frame, and a scanner types on while an answer stands or is awaited.
    const tally = () => page.getByText(/^\d+ shipped, \d+ stopped today$/).innerText();
    const before = await tally();
    expect(await scan(`${held}9`)).toBe("Scan again");
    expect(await tally()).toBe(before);
    const scanOn = async (...serials: string[]): Promise<void> => {
      for (const serial of serials) await page.keyboard.type(`${serial}\n`);
      await page
        .locator("main p", { hasText: /^\S+$/ })
        .first()
        .getByText(serials.at(-1)?.toUpperCase() ?? "", { exact: true })
        .waitFor();
    };
    await scanOn(held.toLowerCase());
    await page.getByRole("heading", { level: 1, name: "Stop" }).waitFor();
    await page.locator("body").click({ position: { x: 5, y: 5 } });
    await scanOn(serial, held, serial.toLowerCase());
    await page
      .getByText("Before it")
      .locator("..")
      .filter({ hasText: new RegExp(`${held} stop.*${serial} stop`) })
      .waitFor();

    // Without the network nobody answers; the scan keeps its place and its key.
    await page.keyboard.press("Enter");
    await context.setOffline(true);
    await page.keyboard.type(`${held}\n`);
    await page.getByText("This device has no network", { exact: false }).waitFor();
    await context.setOffline(false);
    await page.getByRole("button", { name: "Ask again" }).click();
    await page.getByRole("heading", { level: 1, name: "Stop" }).waitFor();
    await context.close();
  });
});
