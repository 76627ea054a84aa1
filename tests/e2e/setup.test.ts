import { chmodSync, mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import type { Browser, BrowserContext, Locator, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { StationKit } from "@/lib/schemas/station-package";
import { launchBrowser } from "../helpers/browser";
import { goodTexts, key, keyAll } from "../helpers/line-shift";
import { freePort, runStart, type RunningStart } from "../helpers/running-start";
import { axeViolations } from "../helpers/signed-in";

const PASSWORD = "a long password of the test";
const BOSS = "mirel@plant.example";
const INSPECTOR = "tavin@plant.example";
const VIEWPORT = { width: 1280, height: 800 };

const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-by-hand-"));
chmodSync(folder, 0o755);
let running: RunningStart | null = null;
let browser: Browser;
let base = "";
let boss: BrowserContext;
let page: Page;

beforeAll(async () => {
  const port = await freePort();
  base = `http://localhost:${port}`;
  browser = await launchBrowser();
  running = runStart({ args: ["--data", folder, "--empty"], env: { PORT: String(port) } });
  await running.waitFor("Ctrl-C stops it.");
  boss = await browser.newContext({ viewport: VIEWPORT, permissions: ["clipboard-read", "clipboard-write"] });
  page = await boss.newPage();
});
afterAll(async () => {
  await browser.close();
  await running?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** The form that this button sends. */
const formOf = (submit: string): Locator =>
  page.locator("form").filter({ has: page.getByRole("button", { name: submit, exact: true }) });

/** Fills fields by their label, choices by the beginning of the option, and sends the form. */
async function send(submit: string, values: Readonly<Record<string, string>>): Promise<Locator> {
  const form = formOf(submit);
  for (const [label, value] of Object.entries(values)) {
    const field = form.getByLabel(label, { exact: true });
    const isChoice = await field.evaluate((element) => element.tagName === "SELECT");
    if (!isChoice) await field.fill(value);
    else await field.selectOption(await optionOf(field, value));
  }
  await form.getByRole("button", { name: submit, exact: true }).click();
  return form;
}

async function optionOf(field: Locator, start: string): Promise<string> {
  const options = await field
    .locator("option")
    .evaluateAll((list) =>
      list.map((option) => ({ value: (option as HTMLOptionElement).value, label: option.textContent ?? "" })),
    );
  const found = options.find(({ label }) => label.startsWith(start));
  if (!found) throw new Error(`no option begins with ${start}: ${options.map(({ label }) => label).join("; ")}`);
  return found.value;
}

/** Pastes as a person does: a long list is put in whole. */
async function paste(field: Locator, text: string): Promise<void> {
  await page.evaluate((copied) => navigator.clipboard.writeText(copied), text);
  await field.fill("");
  await field.press("Control+V");
}

const goTo = async (address: string): Promise<void> => void (await page.goto(`${base}${address}`));
/** Follows the parts of Setup, as a person goes through it. */
const toPart = (name: string) => page.getByRole("navigation", { name: "Setup" }).getByRole("link", { name }).click();
const inTable = (name: string, text: string) =>
  page.getByRole("region", { name, exact: true }).getByRole("row").filter({ hasText: text });

async function signIn(on: Page, email: string): Promise<void> {
  await on.getByLabel("e-mail").fill(email);
  await on.getByRole("textbox", { name: "password" }).fill(PASSWORD);
  await on.keyboard.press("Enter");
  await on.waitForURL(({ pathname }) => pathname !== "/sign-in");
}

describe("a plant made by hand from nothing", () => {
  it("begins at the one-time link, with the first administrator, who is an engineer too", async () => {
    const link = /http:\/\/localhost:\d+(\/new-plant\/\S{40,})/.exec(running?.output() ?? "")?.[1] ?? "";
    await goTo(link);
    await page.getByLabel("name of the plant").fill("Harrowmere Frames");
    await page.getByLabel("time zone of the plant").fill("Pacific/Auckland");
    await page.getByLabel("your name").fill("Mirel Aske");
    await page.getByLabel("your e-mail").fill(BOSS);
    await page.getByLabel("a password, 12 characters or more").fill(PASSWORD);
    await page.getByRole("button", { name: "Set up the plant" }).click();
    await page.waitForURL(`${base}/sign-in`);
    await signIn(page, BOSS);
    await goTo("/setup");
    await page.getByRole("heading", { level: 1, name: "Harrowmere Frames" }).waitFor();
    await page.getByRole("heading", { name: "Before the first frame" }).waitFor();
    expect(await page.getByText("missing", { exact: true }).count()).toBe(12);
    expect(await axeViolations(page)).toEqual([]);
  });

  it("has its line, operation, station and supplier, and keeps what was typed when a key is taken", async () => {
    await page.getByRole("link", { name: "Add a line" }).click();
    await send("Add the line", { key: "L-A", name: "Alloy line" });
    await inTable("Lines", "Alloy line").waitFor();
    await send("Add the line", { key: "L-A", name: "Another one" });
    const form = formOf("Add the line");
    await form.getByText("is taken already").waitFor();
    expect(await form.getByLabel("name", { exact: true }).inputValue()).toBe("Another one");
    expect(await form.getByLabel("key", { exact: true }).getAttribute("aria-invalid")).toBe("true");

    const operation = await send("Add the operation", {
      key: "machined",
      name: "after machining",
      "place in the route": "1,5",
    });
    await operation.getByText("must be a whole number").waitFor();
    await send("Add the operation", { "place in the route": "1" });
    await inTable("Operations", "after machining").waitFor();
    await send("Add the station", {
      key: "ST-1",
      name: "Bench 1",
      line: "L-A",
      operation: "machined",
      "the inspector sees the shell": "from the drive side",
    });
    await inTable("Stations", "Bench 1").waitFor();
    await send("Add the supplier", { key: "OWN", name: "Own workshop" });
    await inTable("Suppliers", "Own workshop").waitFor();
  });

  it("has a setting ring, and gauges that are proven by a calibration", async () => {
    await toPart("Gauges");
    const ring = await send("Add the ring", { key: "R-41", "certified size": "41..002", "its U (k = 2)": "0,8" });
    await ring.getByText("must be a number").waitFor();
    await send("Add the ring", { "certified size": "41,002" });
    await inTable("Setting rings", "41.0020").waitFor();
    const odd = await send("Add the gauge", {
      key: "BG-1",
      name: "Bore gauge",
      measures: "bore diameters",
      principle: "bar",
      resolution: "1",
    });
    await odd.getByText("must be two-point or three-point for what it measures").waitFor();
    const bore = { measures: "bore diameters", principle: "two-point", resolution: "1", "kept at station": "ST-1" };
    await send("Add the gauge", { key: "BG-1", name: "Bore gauge", ...bore, "setting ring": "R-41" });
    await inTable("Gauges", "Bore gauge").getByText("never calibrated").waitFor();
    const sweep = { measures: "sweeps", principle: "indicator", resolution: "1", "kept at station": "ST-1" };
    await send("Add the gauge", { key: "IN-1", name: "Indicator", ...sweep });
    await inTable("Gauges", "Indicator").getByText("sweep, indicator").waitFor();

    const [today, before, later] = [0, -400, 365].map((days) =>
      new Date(Date.now() + days * 86_400_000).toLocaleDateString("sv", { timeZone: "Pacific/Auckland" }),
    );
    const wrong = await send("Enter the calibration", {
      gauge: "BG-1",
      "calibrated on": today ?? "",
      "due on": before ?? "",
      "bias found, if any": "0,4",
      certificate: "K-2041",
    });
    await wrong.getByText("must lie after the calibration").waitFor();
    expect(await wrong.getByLabel("certificate", { exact: true }).inputValue()).toBe("K-2041");
    await send("Enter the calibration", { "due on": later ?? "" });
    await inTable("Calibrations", "K-2041").waitFor();
    await send("Enter the calibration", { gauge: "IN-1", "calibrated on": today ?? "", "due on": later ?? "" });
    await inTable("Calibrations", "IN-1").waitFor();
    expect(await page.getByText("never calibrated").count()).toBe(0);
    expect(await axeViolations(page)).toEqual([]);
  });

  it("has a drawing from a template, looked at a second time and released once", async () => {
    await toPart("Drawings and plans");
    await page.getByRole("link", { name: "Draft and release a drawing" }).click();
    await page.getByRole("listitem").filter({ hasText: "Press fit 41" }).getByRole("link", { name: "92 mm" }).click();
    await page.getByRole("heading", { name: "New drawing from Press fit 41" }).waitFor();
    await page.getByLabel("key", { exact: true }).fill("HM-41");
    await page.getByLabel("title", { exact: true }).fill("Harrowmere 41");
    await page.getByLabel("bore, lower limit").fill("41,05");
    await page.getByRole("button", { name: "Draft this drawing" }).click();
    await page.getByText("the lower limit must be below the upper").first().waitFor();
    await page.getByText("1 entry is not right yet. Nothing was saved.").waitFor();
    expect(await page.getByLabel("title", { exact: true }).inputValue()).toBe("Harrowmere 41");
    await page.getByLabel("bore, lower limit").fill("40,95");
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole("button", { name: "Draft this drawing" }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revision A" }).waitFor();
    const bore = inTable("Characteristics and limits", "bore");
    expect(await bore.innerText()).toMatch(/40\.950.*41\.000/s);

    expect(await page.getByText("The limits are a proposal, no standard.").count()).toBe(1);
    expect(await page.getByText("nobody yet", { exact: true }).count()).toBe(1);

    const other = await boss.newPage();
    await other.goto(page.url());
    await page.getByRole("button", { name: "Release revision A" }).click();
    await page.getByText("released", { exact: true }).first().waitFor();
    await other.getByRole("button", { name: "Release revision A" }).click();
    await other.getByText("This revision is no draft any more").waitFor();
    await other.close();
  });

  it("has a measuring plan whose order of keying was changed and looked at on the shell", async () => {
    await page.getByRole("link", { name: "New plan for it" }).click();
    await page.getByRole("heading", { level: 1, name: "New plan for Harrowmere 41" }).waitFor();
    await page.getByRole("button", { name: "Draft this plan" }).click();
    await page.getByText("must not be empty").first().waitFor();
    await page.getByLabel("key", { exact: true }).fill("HM-41-routine");
    await page.getByLabel("title", { exact: true }).fill("Routine");
    await page.getByRole("button", { name: "Routine plan" }).click();
    await page.getByText("1 of 28: DS seat").waitFor();
    const list = page.getByRole("listbox", { name: "Order of keying" });
    const order = (): Promise<string[]> => list.getByRole("option").locator("code").allInnerTexts();
    const before = await order();
    await page.getByRole("button", { name: "sides in turn" }).click();
    expect((await order()).slice(0, 2).map((name) => name.split(".")[0])).toEqual(["ds", "nds"]);
    await list.focus();
    await page.keyboard.press("ArrowDown");
    await page.getByText("2 of 28: NDS seat").waitFor();
    await page.keyboard.press("Alt+ArrowUp");
    expect((await order())[0]).toMatch(/^nds\./);
    await page.getByText("1 of 28: NDS seat").waitFor();
    expect((await order()).toSorted()).toEqual(before.toSorted());
    await page.getByRole("radio", { name: "every n-th frame" }).check();
    await page.getByLabel("n", { exact: true }).fill("0");
    await page.getByRole("button", { name: "Draft this plan" }).click();
    await page.getByText("must be 2 or more").waitFor();
    await page.getByRole("radio", { name: "every frame" }).check();
    await page.getByRole("radio", { name: "after each event on the line" }).check();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole("button", { name: "Draft this plan" }).click();
    await page.getByRole("heading", { level: 1, name: "Routine, revision 1" }).waitFor();
    await page.getByRole("button", { name: "Release revision 1" }).click();
    await page.getByText("released", { exact: true }).first().waitFor();
    await page.getByRole("button", { name: "Release revision 1" }).waitFor({ state: "detached" });
    expect(await axeViolations(page)).toEqual([]);
  });

  it("has a model and a batch, and says by line what is wrong with pasted serials", async () => {
    await toPart("Lines and models");
    await send("Add the model", { key: "HM", name: "Harrowmere tourer", "shell drawing": "HM-41" });
    await inTable("Frame models", "Harrowmere tourer").waitFor();
    await toPart("Batches");
    const batch = {
      batch: "LOT-1",
      supplier: "OWN",
      "frame model": "HM",
      line: "L-A",
      "measuring plan": "HM-41-routine",
    };
    const serials = "H-0001..H-0010; M1\nH-0011\nH-0005\nH 12";
    const form = await send("Open the batch", { ...batch, serials });
    await form.getByText(/line 3: H-0005 stands in line 1 already/).waitFor();
    await form.getByText(/line 4: a serial has no spaces in it/).waitFor();
    expect(await form.getByLabel("serials").inputValue()).toBe(serials);
    await send("Open the batch", { serials: "H-0001..H-0010; M1\nH-0011" });
    await inTable("Newest batches", "LOT-1").getByText("H-0001 to H-0011").waitFor();
    const again = await send("Open the batch", { ...batch, batch: "LOT-2", serials: "H-0100\nH-0002" });
    await again.getByText("line 2: H-0002 is in batch LOT-1 already").waitFor();
    const many = Array.from({ length: 5000 }, (_, place) => `P${String(place).padStart(5, "0")}`).join("\n");
    await paste(formOf("Open the batch").getByLabel("serials"), many);
    await send("Open the batch", { batch: "LOT-3" });
    await inTable("Newest batches", "LOT-3").getByText("5000").waitFor();
    expect(await axeViolations(page)).toEqual([]);
  });

  it("has an inspector, who measures a frame on the Line to its verdict", async () => {
    await toPart("People and tokens");
    const form = formOf("Add this person");
    await form.getByLabel("name", { exact: true }).fill("Tavin Orre");
    await form.getByLabel("inspector", { exact: true }).check();
    await form.getByLabel("badge code, if they measure").fill("B-11");
    await form.getByLabel("e-mail, if they sign in").fill(INSPECTOR);
    await form.getByLabel("first password, 12 characters or more").fill(PASSWORD);
    await form.getByRole("button", { name: "Add this person" }).click();
    await inTable("People of the plant", "Tavin Orre").waitFor();
    await toPart("Drawings and plans");
    await page.getByRole("region", { name: "Drawings" }).waitFor();
    await page.getByRole("heading", { name: "11 of 12 are there before the first frame" }).waitFor();

    const context = await browser.newContext({ viewport: VIEWPORT });
    const line = await context.newPage();
    await line.goto(`${base}/sign-in?next=/line`);
    await signIn(line, INSPECTOR);
    await line.getByRole("button", { name: "Bench 1" }).click();
    await line.getByLabel("Serial, batch or badge").waitFor();
    const { stations } = await (await context.request.get(`${base}/api/v1/line/stations`)).json();
    const kit = (await (
      await context.request.get(`${base}/api/v1/line/stations/${stations[0].id}`)
    ).json()) as StationKit;
    const plan = kit.plans.find(({ planKey }) => planKey === "HM-41-routine");
    expect(plan?.readingNames[0]).toMatch(/^nds\.bore/);
    await key(line, "H-0001");
    await line.getByText("R-41, certified 41.0020 mm").waitFor();
    await key(line, "41.002");
    await line.getByRole("region", { name: "Asked reading" }).waitFor();
    await keyAll(line, goodTexts(plan?.readingNames ?? []));
    await line.getByRole("heading", { name: "conforms", exact: true }).waitFor();
    await line.getByText("on the server", { exact: true }).waitFor();
    await context.close();
    await goTo("/setup");
    await page.getByRole("region", { name: "Drawings" }).waitFor();
    expect(await page.getByText(/before the first frame/i).count()).toBe(0);
    await goTo("/frames/H-0001");
    await page.getByText("Tavin Orre").first().waitFor();
    await page.getByText("HM-41, revision A (limits are a proposal)").waitFor();
    await page.getByText("Inspection 1, after machining").click();
    const read = inTable("Readings of inspection 1", "mm deep");
    expect(await read.count()).toBe(plan?.readingNames.filter((name) => /bore|sweep/.test(name)).length);
  });
});

describe("what is there changed", () => {
  it("revises the drawing, shows what differs, and says which plan is behind", async () => {
    await goTo("/setup");
    await inTable("Drawings", "HM-41").getByRole("link", { name: /A/ }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revision A" }).waitFor();
    await page.getByRole("link", { name: "Revise" }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revised from A" }).waitFor();
    expect(await page.getByLabel("revision", { exact: true }).inputValue()).toBe("B");
    await page.getByLabel("bore, upper limit").fill("40.99");
    await page.getByLabel("coaxiality is critical").uncheck();
    await page.getByRole("button", { name: "Draft this revision" }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revision B" }).waitFor();
    await page.getByRole("link", { name: "Compare revisions" }).click();
    await page.getByRole("heading", { level: 1, name: "2 entries differ between A and B" }).waitFor();
    const upper = inTable("What differs", "bore, upper limit");
    expect(await upper.getByRole("cell").allInnerTexts()).toEqual(["41", "40.99"]);
    const critical = inTable("What differs", "coaxiality, critical");
    expect(await critical.getByRole("cell").allInnerTexts()).toEqual(["yes", "no"]);
    expect(await axeViolations(page)).toEqual([]);
    await page.goBack();
    await page.getByRole("button", { name: "Release revision B" }).click();
    await page.getByText("judges by revision A").waitFor();
    await page.getByRole("link", { name: "Plan HM-41-routine" }).click();
    await page.getByRole("heading", { level: 1, name: "Routine, revision 1" }).waitFor();
    await page.getByRole("link", { name: "Revise" }).click();
    await page.getByText("It moves from drawing revision A to B, the one in force.").waitFor();
    await page.getByRole("button", { name: "Draft this revision" }).click();
    await page.getByRole("heading", { level: 1, name: "Routine, revision 2" }).waitFor();
    await page.getByRole("button", { name: "Release revision 2" }).click();
    await page.getByRole("button", { name: "Release revision 2" }).waitFor({ state: "detached" });
    await goTo("/setup");
    await inTable("Drawings", "HM-41").getByText("superseded").waitFor();
  });

  it("writes over nobody's change of a draft, and keeps what was typed", async () => {
    await inTable("Drawings", "HM-41").getByRole("link", { name: /B/ }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revision B" }).waitFor();
    await page.getByRole("link", { name: "Revise" }).click();
    await page.getByRole("button", { name: "Draft this revision" }).click();
    await page.getByRole("heading", { level: 1, name: "Harrowmere 41, revision C" }).waitFor();
    await page.getByRole("link", { name: "Change the draft" }).click();
    await page.getByLabel("title", { exact: true }).fill("Harrowmere 41, tighter");
    const other = await boss.newPage();
    await other.goto(page.url());
    await other.getByLabel("bore, upper limit").fill("40.98");
    await other.getByRole("button", { name: "Save the draft" }).click();
    await other.getByRole("heading", { level: 1, name: "Harrowmere 41, revision C" }).waitFor();
    await other.close();
    await page.getByRole("button", { name: "Save the draft" }).click();
    await page.getByText("Somebody else changed this draft since you opened it.").waitFor();
    expect(await page.getByLabel("title", { exact: true }).inputValue()).toBe("Harrowmere 41, tighter");
  });

  it("names a station anew and takes it out of use: Line no longer offers it, until it is back", async () => {
    await goTo("/setup/plant");
    await inTable("Stations", "Bench 1").getByRole("link", { name: "ST-1" }).click();
    await page.getByRole("heading", { level: 1, name: "Station ST-1" }).waitFor();
    const other = await boss.newPage();
    await other.goto(page.url());
    await page.getByLabel("name", { exact: true }).fill("Bench by the door");
    await page.getByLabel("in use").uncheck();
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Changed, and recorded in the journal.").waitFor();
    expect(await axeViolations(page)).toEqual([]);

    await other.getByLabel("name", { exact: true }).fill("Bench 2");
    await other.getByRole("button", { name: "Save" }).click();
    await other.getByText("was changed by somebody else meanwhile. Nothing was changed").waitFor();
    expect(await other.getByLabel("name", { exact: true }).inputValue()).toBe("Bench 2");
    await other.goto(`${base}/line`);
    await other.getByText("No station is in use").waitFor();
    await other.close();

    await goTo("/setup/gauges");
    const stations = formOf("Add the gauge").getByLabel("kept at station", { exact: true }).locator("option");
    expect(await stations.allInnerTexts()).toEqual(["none"]);
    await goTo("/setup/journal");
    await page.getByText("ST-1, name Bench 1 → Bench by the door, in use yes → no").waitFor();
    await goTo("/setup/plant/station/ST-1");
    await page.getByLabel("in use").check();
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Changed, and recorded in the journal.").waitFor();
  });
});
