import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it, vi } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { axeViolations, signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");

describe("Today", () => {
  it("gives the manager a held batch in one sentence, with its age, and leads to it", async () => {
    const { context, page } = await signedIn(browser, base(), "supplier_manager");
    await page.goto(`${base()}/`);
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toMatch(/^\d+ things? needs? you$/);
    const tasks = page.getByRole("region", { name: "What needs somebody" });
    const batch = tasks.getByRole("heading", { level: 2 }).filter({ hasText: / is held/ });
    const key = (await batch.first().innerText()).split(" ")[0] ?? "";
    await tasks.getByRole("listitem").filter({ hasText: key }).last().getByRole("link").first().click();
    await page.waitForURL(`${base()}/gate/batches/${key}`);
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toBe("Held");
    await context.close();
  });

  it("shows live to others who took a case over, and asks the auditor for nothing", async () => {
    const engineer = await signedIn(browser, base(), "engineer");
    const auditor = await signedIn(browser, base(), "auditor");
    await auditor.page.goto(`${base()}/`);
    expect(await auditor.page.getByRole("heading", { level: 1 }).innerText()).toBe("Nothing needs you");
    await auditor.page.getByRole("status").getByText("live", { exact: true }).waitFor();
    await engineer.page.goto(`${base()}/`);
    expect(await axeViolations(engineer.page)).toEqual([]);
    const open = await engineer.page.locator("a[href^='/drift/cases/']").first().getAttribute("href");
    await engineer.page.goto(`${base()}${open}`);
    await engineer.page.getByLabel("who has it").selectOption({ label: "Ilse Brandow" });
    await engineer.page.getByRole("button", { name: "Give the case" }).click();
    await auditor.page.getByText("with Ilse Brandow").first().waitFor({ timeout: 5000 });
    await Promise.all([engineer.context.close(), auditor.context.close()]);
  });

  it.each([
    ["dock", "/gate/ship"],
    ["inspector", "/line"],
  ] as const)("is for the %s the one page of the duty", async (role, address) => {
    const { context, page } = await signedIn(browser, base(), role);
    await page.goto(`${base()}/`);
    await page.waitForURL(`${base()}${address}`);
    expect(await page.getByRole("link", { name: "Today", exact: true }).count()).toBe(0);
    await context.close();
  });

  it("tells the administrator of jobs only, and does not speak for others", async () => {
    const { context, page } = await signedIn(browser, base(), "administrator");
    await page.goto(`${base()}/`);
    expect(await page.getByRole("heading", { level: 1 }).innerText()).toBe("Nothing needs you");
    expect(await page.getByText("Nor anybody else").count()).toBe(0);
    await page.getByText("jobs failed").waitFor();
    await context.close();
  });

  it("hangs on the wall by a link of its own, which opens nothing else and ends when it is revoked", async () => {
    const { context, page } = await signedIn(browser, base(), "administrator");
    await page.goto(`${base()}/setup/people`);
    await page.getByLabel("what it is for").fill("wall of the shop");
    await page.getByLabel("open the view for the wall, and nothing else").check();
    await page.getByRole("button", { name: "Make a token" }).click();
    const address = await page.getByText(/^\/wall\/sg_/).innerText();
    const token = address.slice("/wall/".length);
    const shop = await browser.newContext({ viewport: { width: 1920, height: 1080 } });
    const wall = await shop.newPage();
    await wall.goto(`${base()}${address}`);
    await wall.getByRole("heading", { name: /^C41/ }).waitFor();
    await wall.getByText(/^heard /).waitFor();
    expect(await axeViolations(wall)).toEqual([]);
    const scrolls = () =>
      wall.evaluate(
        () =>
          document.documentElement.scrollHeight > window.innerHeight || document.body.scrollWidth > window.innerWidth,
      );
    const smallest = () =>
      wall.evaluate(() =>
        Math.min(
          ...[...document.querySelectorAll("main *")]
            .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent?.trim() !== ""))
            .map((one) => Number.parseFloat(getComputedStyle(one).fontSize)),
        ),
      );
    expect(await scrolls()).toBe(false);
    expect(await smallest()).toBeGreaterThanOrEqual(30);
    await wall.goto(`${base()}${address}?line=C41`);
    expect(await wall.getByRole("heading", { level: 2 }).count()).toBe(1);
    // Without the network it stays, says so, and comes back by itself.
    await shop.setOffline(true);
    await wall.getByText(/^No connection since /).waitFor({ timeout: 60_000 });
    await shop.setOffline(false);
    await wall.getByText(/^No connection since /).waitFor({ state: "detached", timeout: 20_000 });
    for (const other of ["/drift", "/gate", "/"]) {
      await wall.goto(`${base()}${other}`);
      expect(new URL(wall.url()).pathname).toBe("/sign-in");
    }
    const headers = { authorization: `Bearer ${token}` };
    for (const other of ["/api/v1/cases", "/api/v1/live", "/metrics"]) {
      const answer = await shop.request.get(`${base()}${other}`, { headers });
      expect(answer.status(), other).toBe(403);
    }
    await page.reload();
    await page.getByRole("button", { name: "Revoke wall of the shop" }).click();
    await vi.waitFor(
      async () => {
        await wall.goto(`${base()}${address}`);
        expect(await wall.getByRole("heading", { name: "This link opens nothing" }).count()).toBe(1);
      },
      { timeout: 20_000, interval: 1000 },
    );
    await Promise.all([context.close(), shop.close()]);
  });
});
