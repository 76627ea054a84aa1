import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
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
});
