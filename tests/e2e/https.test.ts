import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { DEMO_PASSWORD } from "@/lib/schemas/demo-sign-ins";
import { launchBrowser } from "../helpers/browser";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser(inject("httpsBrowserArguments"));
});
afterAll(async () => browser.close());

const base = (): string => inject("httpsAddress");

/** By the form: only the browser knows where plant.test is. */
async function signInByHand(email: string, path: string): Promise<Page> {
  const page = await browser.newPage();
  await page.goto(`${base()}${path}`);
  await page.getByLabel("e-mail").fill(email);
  await page.getByRole("textbox", { name: "password" }).fill(DEMO_PASSWORD);
  await page.keyboard.press("Enter");
  await page.waitForURL(`${base()}${path}`);
  return page;
}

describe("the plant on the shop floor's network", () => {
  it("is a secure context under a name that is not this machine's own, with a cookie for HTTPS only", async () => {
    const page = await signInByHand("inspector@fennimoor.example", "/line");
    await page.getByText("C41 after machining").first().waitFor();
    expect(await page.evaluate(() => [location.hostname, isSecureContext, "serviceWorker" in navigator])).toEqual([
      "plant.test",
      true,
      true,
    ]);
    const session = (await page.context().cookies()).find(({ name }) => name.includes("session"));
    expect(session).toMatchObject({ secure: true, httpOnly: true, sameSite: "Lax" });
    await page.close();
  });

  it("lets a person sign in by hand and shows a held batch", async () => {
    const page = await signInByHand("supplier-manager@fennimoor.example", "/gate?state=held");
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toMatch(/held/);
    await page.close();
  });

  it("keeps the live events flowing through the front", async () => {
    const page = await signInByHand("engineer@fennimoor.example", "/drift");
    await page.getByText("live", { exact: true }).first().waitFor();
    await page.close();
  });
});
