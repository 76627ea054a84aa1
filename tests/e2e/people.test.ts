import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { axeViolations, signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

describe("people and tokens", () => {
  it("lets an administrator add somebody, make a token that works, and revoke it", async () => {
    const base = inject("appAddress");
    const { context, page } = await signedIn(browser, base, "administrator");
    await page.goto(`${base}/setup/people`);
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel("name").fill("Ellis Marn");
    await page.getByLabel("inspector", { exact: true }).check();
    await page.getByLabel("badge code, if they measure").fill("B-777");
    await page.getByRole("button", { name: "Add this person" }).click();
    await page.getByRole("rowheader", { name: "Ellis Marn" }).waitFor();

    await page.getByLabel("what it is for").fill("warehouse");
    await page.getByLabel("ask the gate").check();
    await page.getByRole("button", { name: "Make a token" }).click();
    const token = await page.locator("[role=status] code").innerText();
    const ask = () => fetch(`${base}/api/v1/gate/frames/C41-01000`, { headers: { authorization: `Bearer ${token}` } });
    expect((await ask()).status).toBe(200);
    await page.getByRole("button", { name: "Revoke warehouse" }).click();
    await page.getByText(/^revoked /).waitFor();
    await expect.poll(async () => (await ask()).status, { timeout: 8000 }).toBe(401);
    await context.close();
  });

  it("shows an inspector that this is for administrators", async () => {
    const base = inject("appAddress");
    const { context, page } = await signedIn(browser, base, "inspector");
    await page.goto(`${base}/setup/people`);
    await page.getByRole("heading", { level: 1, name: "This is not open to you" }).waitFor();
    await context.close();
  });
});
