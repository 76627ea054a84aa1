import { randomBytes } from "node:crypto";
import type { Browser, BrowserContext, BrowserContextOptions, Page } from "playwright-core";
import { afterAll, beforeAll, expect, inject } from "vitest";
import { formatReadingName, parseReadingName, READING_UNIT } from "@/lib/core/metrology/reading-name";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { DraftPlan } from "@/lib/schemas/plan";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { closeConnections } from "@/lib/server/db/client";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { createPerson } from "@/lib/server/people/commands";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { launchBrowser } from "./browser";
import { createTestPlant, type TestPlant } from "./plant";

const PASSWORD = "a-shift-of-eight-hours";
const DAY_MS = 86_400_000;
/** Certified size of the setting ring, mm. */
export const RING_MM = 40.9752;

type Somebody = PersonViewer & { readonly email: string };

/** A plant for one shift at one station, beside the demo plant of the running application. */
export type ShiftPlant = TestPlant & {
  /** Badges D1 and D2, and an engineer. */
  readonly ada: Somebody;
  readonly ben: Somebody;
  readonly engineer: Somebody;
  /** Releases another revision of the plan, or another plan. */
  readonly releasePlan: (change: Partial<DraftPlan>) => Promise<string>;
};

/** For a whole test file: a browser, while this process acts on the database of the running application. */
export function besideApplication(): { readonly browser: () => Browser; readonly base: () => string } {
  let browser: Browser | null = null;
  beforeAll(async () => {
    actOnDatabase(inject("appDatabase"));
    browser = await launchBrowser();
  });
  afterAll(async () => {
    await browser?.close();
    await closeConnections();
  });
  return {
    browser: () => {
      if (browser === null) throw new Error("the browser is launched before the first test");
      return browser;
    },
    base: () => inject("appAddress"),
  };
}

/** A frame's record as an auditor reads it. */
export const recordOf = (plant: ShiftPlant, serial: string) =>
  getFrameRecord({ ...plant.engineer, roles: ["auditor"] }, serial);

/** A button by its name; a text is the whole name. */
export const button = (page: Page, name: string | RegExp) =>
  page.getByRole("button", { name, exact: typeof name === "string" });

/** Lets this process act on the database of the running application. */
function actOnDatabase(url: string): void {
  Object.assign(process.env, {
    DATABASE_URL: url,
    AUTH_SECRET: randomBytes(32).toString("hex"),
    SHELLGATE_ORIGIN: "http://localhost:3000",
    LOG_LEVEL: "error",
  });
}

async function addPerson(plant: TestPlant, name: string, role: "inspector" | "engineer", badgeCode?: string) {
  const email = `${uuidV7()}@shift.example`;
  const account = { email, password: PASSWORD };
  const badge = badgeCode === undefined ? {} : { badgeCode };
  const { personId } = await createPerson(plant.system, { name, roles: [role], account, ...badge });
  return {
    kind: "person",
    plantId: plant.plantId,
    plantZone: "UTC",
    personId,
    name,
    roles: [role],
    email,
  } as const satisfies Somebody;
}

/** A routine plan, two bore gauges with a ring, indicators, two inspectors and an engineer. */
export async function createShiftPlant(frames = 8): Promise<ShiftPlant> {
  const plant = await createTestPlant({ frames, plan: "routine" });
  const { system } = plant;
  const now = Date.now();
  const calibration = {
    calibratedAt: new Date(now - 30 * DAY_MS).toISOString(),
    calibratedUntil: new Date(now + 300 * DAY_MS).toISOString(),
  };
  await createSettingRing(system, { key: "RG-41", certifiedSizeMm: RING_MM, uncertaintyUm: 0.75 });
  for (const key of ["BG-1", "BG-2"]) {
    const bore = { kind: "bore", principle: "two-point", resolutionUm: 0.1, ring: "RG-41" } as const;
    await createGauge(system, { ...calibration, ...bore, key, name: `bore gauge ${key}` });
  }
  const sweep = { kind: "sweep", principle: "indicator", resolutionUm: 0.5 } as const;
  await createGauge(system, { ...calibration, ...sweep, key: "SI-1", name: "sweep indicator" });
  let revision = 1;
  const releaseNewPlan: ShiftPlant["releasePlan"] = async (change) => {
    revision += 1;
    const readingNames = plant.names.map(formatReadingName);
    const draft = {
      key: "P1",
      title: "Plan 1",
      revision: String(revision),
      frames: { kind: "all" as const },
      readingNames,
    };
    const { id } = await draftPlan(system, { ...draft, drawingRevisionId: plant.drawingRevisionId, ...change });
    await releasePlan(system, id);
    return id;
  };
  return {
    ...plant,
    ada: await addPerson(plant, "Ada Brook", "inspector", "D1"),
    ben: await addPerson(plant, "Ben Carrow", "inspector", "D2"),
    engineer: await addPerson(plant, "Eve Dunmore", "engineer"),
    releasePlan: releaseNewPlan,
  };
}

export type StationPage = { readonly page: Page; readonly context: BrowserContext };

/** A context in which somebody of the plant is signed in, at Line. */
export async function signedInAt(
  browser: Browser,
  base: string,
  { email }: Somebody,
  options: BrowserContextOptions = { viewport: { width: 1280, height: 800 } },
): Promise<StationPage> {
  const context = await browser.newContext(options);
  await signIn(context, base, email);
  const page = await context.newPage();
  await page.goto(`${base}/line`);
  return { page, context };
}

export async function signIn(context: BrowserContext, base: string, email: string): Promise<void> {
  const data = { email, password: PASSWORD };
  const answer = await context.request.post(`${base}/api/auth/sign-in`, { data, headers: { origin: base } });
  expect(answer.status()).toBe(204);
}

/** The password of everybody of a shift's plant, for what is signed. */
export const SHIFT_PASSWORD = PASSWORD;

/** Sets the device up at the plant's only station. */
export async function atStation(
  browser: Browser,
  base: string,
  who: Somebody,
  options?: BrowserContextOptions,
): Promise<StationPage> {
  const station = await signedInAt(browser, base, who, options);
  await station.page.getByRole("button", { name: "Station 1" }).click();
  await station.page.getByLabel("Serial, batch or badge").waitFor();
  return station;
}

/** A scanner or a person at the keys: the text, then Enter. */
export async function key(page: Page, text: string): Promise<void> {
  await page.keyboard.type(text);
  await page.keyboard.press("Enter");
}

export async function keyAll(page: Page, texts: readonly string[]): Promise<void> {
  for (const text of texts) await key(page, text);
}

/** Scans a frame; the zero check that is due is passed first where one is asked for. */
export async function startFrame(page: Page, serial: string): Promise<void> {
  await key(page, serial);
  const asked = page.getByRole("region", { name: "Zero check" });
  const reading = page.getByRole("region", { name: "Asked reading" });
  await asked.or(reading).first().waitFor();
  if (await asked.isVisible()) await key(page, RING_MM.toFixed(4));
  await reading.waitFor();
}

/** What conforms on press-fit 41, in the plan's order; a word's number for plugs and the bar. */
export function goodTexts(readingNames: readonly string[], boreMm = "40.975"): string[] {
  return readingNames.map((text) => {
    const name = parseReadingName(text);
    if (!name.ok || READING_UNIT[name.value.kind] === null) return "1";
    if (name.value.kind === "bore") return boreMm;
    return name.value.kind === "width" ? "86.5" : "0";
  });
}

/** The device keeps the program, so that Line starts without the network. */
export async function waitUntilKept(page: Page): Promise<void> {
  const isKept = () =>
    page.evaluate(async () => (await navigator.serviceWorker.getRegistration("/line"))?.active?.state === "activated");
  await expect.poll(isKept, { timeout: 60_000 }).toBe(true);
}
