import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { openHeldBatch } from "../helpers/held-batch";
import { signedIn } from "../helpers/signed-in";

let browser: Browser;
beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => browser.close());

const base = (): string => inject("appAddress");

describe("who may do what, on the screens", () => {
  it("sends a visitor to the sign-in page, and on to where they wanted to go", async () => {
    const page = await browser.newPage();
    await page.goto(`${base()}/gate?state=held`);
    await page.waitForURL(/\/sign-in\?next=/);
    await page.getByRole("button", { name: /Sign in as supplier manager/ }).click();
    await page.waitForURL(`${base()}/gate?state=held`);
    await page.close();
  });

  it("says no to a wrong password without saying which part was wrong", async () => {
    const page = await browser.newPage();
    await page.goto(`${base()}/sign-in`);
    const answers: string[] = [];
    for (const email of ["auditor@fennimoor.example", "nobody@fennimoor.example"]) {
      await page.getByLabel("e-mail").fill(email);
      await page.getByRole("textbox", { name: "password" }).fill("not the password");
      await page.keyboard.press("Enter");
      const alert = page.getByRole("alert").filter({ hasText: /\S/ }).first();
      await alert.waitFor();
      answers.push(await alert.innerText());
      await page.reload();
    }
    expect(answers[0]).toBe(answers[1]);
    expect((await page.context().cookies()).filter(({ name }) => name.includes("session"))).toEqual([]);
    await page.close();
  });

  it("lets an inspector look but not decide, and ship nothing", async () => {
    const { context, page } = await signedIn(browser, base(), "inspector");
    await openHeldBatch(page, base());
    expect(await page.getByLabel("your password, as signature").count()).toBe(0);
    await page.goto(`${base()}/gate/ship`);
    await page.getByText("Only the dock ships").waitFor();
    expect(await page.getByLabel("serial", { exact: true }).count()).toBe(0);
    const refused = await context.request.post(`${base()}/api/v1/shipments`, {
      data: { id: "0197a000-0000-7000-8000-000000000001", serial: "C41-01000" },
      headers: { origin: base() },
    });
    expect(refused.status()).toBe(403);
    await context.close();
  });

  it("lets the dock ship but not decide", async () => {
    const { context, page } = await signedIn(browser, base(), "dock");
    await openHeldBatch(page, base());
    expect(await page.getByLabel("your password, as signature").count()).toBe(0);
    await context.close();
  });

  it.each([
    { role: "dock", own: ["Gate"], closed: ["/line", "/drift", "/setup", "/setup/journal", "/setup/plant/line/C41"] },
    { role: "administrator", own: ["Today", "Setup"], closed: ["/line", "/drift", "/gate", "/frames/C41-01000"] },
    {
      role: "inspector",
      own: ["Line", "Drift", "Gate", "Gauges", "Setup"],
      closed: ["/setup/journal", "/setup/drawings/new", "/setup/plans/new", "/setup/people", "/setup/people/somebody"],
    },
  ] as const)("shows $role their own work areas, and says plainly what is not open", async ({ role, own, closed }) => {
    const { context, page } = await signedIn(browser, base(), role);
    await page.goto(`${base()}/`);
    // Who only ships or only measures lands on the scan or the station.
    if (role === "inspector") {
      await page.waitForURL(`${base()}/line`);
      await page.goto(`${base()}/drift`);
    }
    if (role === "dock") {
      await page.waitForURL(`${base()}/gate/ship`);
      await page.getByRole("link", { name: "Back to Gate" }).click();
      await page.waitForURL(`${base()}/gate`);
    }
    expect(await page.getByRole("navigation", { name: "Work areas" }).locator("ul a").allInnerTexts()).toEqual(own);
    for (const path of closed) {
      const answer = await page.goto(`${base()}${path}`);
      expect(answer?.status(), path).toBe(403);
      await page.getByRole("heading", { level: 1, name: "This is not open to you" }).waitFor();
    }
    await context.close();
  });

  it("lets an inspector look at the parts of the plant, without a form to change them", async () => {
    const { context, page } = await signedIn(browser, base(), "inspector");
    for (const path of ["/setup/plant/station/C41-M", "/setup/gauges/BG-03", "/setup/gauges/rings/RG-41-1"]) {
      await page.goto(`${base()}${path}`);
      await page.getByText("Engineers change this").waitFor();
      expect(await page.getByRole("button", { name: "Save" }).count(), path).toBe(0);
    }
    await context.close();
  });

  it("finds a frame from anywhere by / and shows its record", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/setup`);
    // The key works as soon as the page is awake.
    const field = page.locator("[aria-keyshortcuts='/']");
    await expect
      .poll(async () => {
        await page.keyboard.press("/");
        return field.evaluate((element) => element === document.activeElement);
      })
      .toBe(true);
    expect(await field.inputValue()).toBe("");
    await page.keyboard.type("C41-01000");
    await page.keyboard.press("Enter");
    await page.waitForURL(`${base()}/frames/C41-01000`);
    await page.getByText("What this means").waitFor();
    await page.getByText("Inspection 1, after machining").first().waitFor();
    await context.close();
  });

  it("lists what carries a part of a name, and says so where nothing does", async () => {
    const { context, page } = await signedIn(browser, base(), "auditor");
    await page.goto(`${base()}/search?q=C41-0100`);
    expect(await page.locator("li a[href^='/frames/']").count()).toBeGreaterThan(5);
    await page.goto(`${base()}/search?q=no-such-thing`);
    await page.getByText("Nothing has this in its name").waitFor();
    const missing = await page.goto(`${base()}/frames/NO-SUCH-FRAME`);
    expect(missing?.status()).toBe(404);
    await page.getByRole("heading", { level: 1, name: "There is nothing at this address" }).waitFor();
    await page.getByRole("navigation").first().waitFor();
    await context.close();
  });
});
