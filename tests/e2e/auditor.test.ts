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

describe("an auditor", () => {
  it("goes from a frame to what the journal says of it, narrows it down, and back to the frame", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/frames/C41-01000`);
    await page.getByRole("link", { name: "Entries of the journal" }).click();
    await page.getByRole("heading", { name: "Entries found" }).waitFor();
    expect(new URL(page.url()).searchParams.get("q")).toBe("C41-01000");
    const entries = page.getByRole("region", { name: "Newest entries of the journal" });
    await entries.getByRole("link", { name: "C41-01000" }).first().waitFor();

    await page.getByRole("searchbox", { name: "serial, batch, gauge, name or word" }).fill("no such word");
    await page.getByRole("button", { name: "Search", exact: true }).click();
    await page.getByRole("heading", { name: "No such entry was found" }).waitFor();
    await page.getByRole("link", { name: "Show all" }).click();
    await page.getByRole("heading", { name: "Newest entries" }).waitFor();

    await page.goBack();
    await page.goBack();
    await entries.getByRole("link", { name: "C41-01000" }).first().click();
    await page.getByRole("heading", { name: "C41-01000" }).waitFor();
    await context.close();
  });

  it("checks the journal by a press, sees how far it is, and reads what was found", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/setup/journal`);
    await page.getByRole("button", { name: "Check the journal" }).click();
    await page.getByText("nothing found").waitFor({ timeout: 60_000 });
    await page.getByText("Nothing was altered, removed or put elsewhere", { exact: false }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel("anchor kept outside, if any").fill("not an anchor");
    await page.getByRole("button", { name: "Check the journal" }).click();
    await page.getByText("must be the 64 letters and digits of an anchor, or empty").waitFor();
    await context.close();
  });

  it("is offered no form that changes anything", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    for (const path of ["/setup", "/setup/plant", "/setup/gauges", "/setup/people"]) {
      await page.goto(`${base()}${path}`);
      await page.getByRole("heading", { level: 1 }).waitFor();
      expect(await page.locator("main form").count(), path).toBe(0);
    }
    await context.close();
  });
});
