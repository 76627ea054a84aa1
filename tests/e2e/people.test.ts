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
    const token = await page.locator("[role=status] code").first().innerText();
    const ask = () => fetch(`${base}/api/v1/gate/frames/C41-01000`, { headers: { authorization: `Bearer ${token}` } });
    expect((await ask()).status).toBe(200);
    await page.getByRole("button", { name: "Revoke warehouse" }).click();
    await page.getByText(/^revoked /).waitFor();
    await expect.poll(async () => (await ask()).status, { timeout: 8000 }).toBe(401);
    await context.close();
  });

  it("lets an administrator change somebody's badge, roles and sign-in, and end their access on purpose only", async () => {
    const base = inject("appAddress");
    const { context, page } = await signedIn(browser, base, "administrator");
    await page.goto(`${base}/setup/people`);
    await page.getByLabel("name").fill("Sefa Lund");
    await page.getByLabel("inspector", { exact: true }).check();
    await page.getByRole("button", { name: "Add this person" }).click();
    await page.getByRole("link", { name: "Sefa Lund" }).click();
    await page.getByRole("heading", { level: 1, name: "Sefa Lund" }).waitFor();
    expect(await axeViolations(page)).toEqual([]);

    await page.getByLabel("badge code").fill("B-101");
    await page.getByRole("button", { name: "Change the badge" }).click();
    await page.getByText("is somebody else's", { exact: true }).waitFor();
    expect(await page.getByLabel("badge code").inputValue()).toBe("B-101");
    await page.getByLabel("badge code").fill("B-888");
    await page.getByRole("button", { name: "Change the badge" }).click();
    await page.getByText("Changed.").waitFor();

    await page.getByLabel("e-mail").fill("sefa@plant.example");
    await page.getByLabel("first password").fill("a long first password");
    await page.getByRole("button", { name: "Give a sign-in" }).click();
    const signIn = async (password: string): Promise<number> => {
      const headers = { origin: base, "content-type": "application/json" };
      const body = JSON.stringify({ email: "sefa@plant.example", password });
      return (await fetch(`${base}/api/auth/sign-in`, { method: "POST", headers, body })).status;
    };
    await page.getByLabel("a new password").fill("another long password");
    await page.getByRole("button", { name: "Set the password" }).click();
    await page.getByText("all their sessions end").waitFor();
    await expect.poll(() => signIn("another long password")).toBe(204);
    expect(await signIn("a long first password")).toBe(401);

    await page.getByLabel("inspector", { exact: true }).uncheck();
    await page.getByLabel("dock").check();
    await page.getByRole("button", { name: "Change the roles" }).click();
    await page.getByText("Changed.").nth(1).waitFor();

    await page.getByRole("button", { name: "Deactivate Sefa Lund" }).click();
    await page.getByText("tick it: this cannot be taken back").waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel("they have left").check();
    await page.getByRole("button", { name: "Deactivate Sefa Lund" }).click();
    await page.getByText("Sefa Lund is not active").waitFor();
    expect(await signIn("another long password")).toBe(401);
    await page.goto(`${base}/setup/people`);
    await page.getByRole("row").filter({ hasText: "Sefa Lund" }).getByText("not active").waitFor();
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
