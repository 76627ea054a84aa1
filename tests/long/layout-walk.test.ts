import { mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { launchBrowser } from "../helpers/browser";
import { SIGHTS, walkPages } from "../helpers/layout-walk";
import { freePort, runStart, type RunningStart } from "../helpers/running-start";

const START_MS = 600_000;

let browser: Browser;
let plant: RunningStart;
let folder: string;
let base: string;

beforeAll(async () => {
  folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-walk-"));
  const port = await freePort();
  plant = runStart({ args: ["--data", folder], env: { PORT: String(port) } });
  await plant.waitFor("Ctrl-C stops it.", START_MS);
  base = `http://localhost:${port}`;
  browser = await launchBrowser();
}, START_MS);
afterAll(async () => {
  await browser?.close();
  await plant?.stop();
  rmSync(folder, { recursive: true, force: true });
}, 120_000);

describe("every page of the demo plant", () => {
  it("cuts, wraps and overlaps nothing at 390, 768, 1024, 1280 and 1440, with texts 35 % longer too", async () => {
    let looks = 0;
    const faults = await walkPages(browser, base, {
      widths: [390, 768, 1024, 1280, 1440],
      sights: SIGHTS,
      every: true,
      onPage: async () => {
        looks += 1;
      },
    });
    console.info(`layout: ${looks} looks at pages, ${faults.length} faults`);
    expect(faults).toEqual([]);
  });
});
