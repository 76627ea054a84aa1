import type { BrowserContext, CDPSession, Page } from "playwright-core";
import { formatDeviationUm } from "@/lib/format/number-text";
import { formatReading } from "@/lib/format/reading-text";
import { type ReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { judgeReading } from "@/lib/quality/judge-reading";
import { launchBrowser } from "../helpers/browser";
import { startLinePlant, type LinePlant } from "../helpers/line-plant";
import { expectPaint, installPaintProbe, takePaintSamples, type PaintSample } from "../helpers/paint-probe";
import type { BenchLine } from "./run";

const SLOWER = 4;
const READINGS = 160;
const FLOOR_ENTERS = 100;
/** Between two keys: a person, four a second; a gauge that types. */
const PERSON_MS = 250;
const WEDGE_MS = 8;

function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)] ?? Number.NaN;
}

async function slowDown(page: Page): Promise<CDPSession> {
  const session = await page.context().newCDPSession(page);
  await session.send("Emulation.setCPUThrottlingRate", { rate: SLOWER });
  return session;
}

/** A value beside the target, another one each time, so that every answer changes the screen. */
function keyed(name: ReadingName, at: number): string {
  const step = [0, 1, -1, 2][at % 4] ?? 0;
  if (name.kind === "bore") return (40.975 + step / 1000).toFixed(3);
  return name.kind === "width" ? (86.5 + step / 100).toFixed(2) : String(step);
}

function answerTo(name: ReadingName, text: string): string {
  const { deviationUm } = judgeReading(PRESS_FIT_41, name, Number(text));
  return formatDeviationUm(deviationUm ?? Number(text), 0, ".");
}

type Frame = { readonly serial: string; readonly names: readonly ReadingName[]; readonly delay: number };

async function keyFrame(page: Page, { serial, names, delay }: Frame, from: number): Promise<PaintSample[]> {
  await page.keyboard.type(serial);
  await page.keyboard.press("Enter");
  await page.locator("#reading").waitFor();
  // The scan's own work is over before the first number is keyed.
  await page.waitForTimeout(500);
  for (const [index, name] of names.entries()) {
    const text = keyed(name, from + index);
    const next = names[index + 1];
    if (next !== undefined) {
      const words = formatReading(next, "ds", ".");
      await expectPaint(
        page,
        [
          { selector: "section[aria-label='Asked reading']", text: `reading ${index + 2} of` },
          { selector: "#reading-answer", text: answerTo(name, text) },
        ],
        [{ selector: `svg[aria-label*="Asked for: ${words.title}, ${words.detail}"]`, text: "" }],
      );
    } else await expectPaint(page, [{ selector: "h1", text: "conforms" }]);
    await page.keyboard.type(text, { delay });
    await page.keyboard.press("Enter");
    await page.waitForTimeout(Math.max(delay, PERSON_MS));
  }
  await page.getByRole("heading", { name: "conforms", exact: true }).waitFor();
  await page.waitForTimeout(500);
  return takePaintSamples(page);
}

async function openStation(plant: LinePlant, context: BrowserContext): Promise<Page> {
  const page = await context.newPage();
  await installPaintProbe(page);
  await page.goto(`${plant.address}/line`);
  await page.getByRole("button", { name: "Station 1" }).click();
  await page.getByLabel("Serial, batch or badge").waitFor();
  await page.waitForTimeout(3000);
  return page;
}

const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });

type Keyed = { readonly plan: "full" | "routine"; readonly delay: number; readonly readings: number };

async function enterToPainted(plant: LinePlant, { plan, delay, readings }: Keyed): Promise<PaintSample[][]> {
  const browser = await launchBrowser();
  try {
    const { email, names } = await plant.addPlant({ frames: 60, plan });
    const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
    await plant.signIn(context, email);
    const page = await openStation(plant, context);
    await slowDown(page);
    const inner: PaintSample[] = [];
    const last: PaintSample[] = [];
    for (let frame = 0; inner.length < readings; frame += 1) {
      const serial = `T-${String(frame + 1).padStart(4, "0")}`;
      const samples = await keyFrame(page, { serial, names, delay }, frame);
      // The first frame warms up: its script is not compiled yet.
      if (frame === 0) continue;
      inner.push(...samples.slice(0, -1));
      last.push(...samples.slice(-1));
    }
    return [inner, last];
  } finally {
    await browser.close();
  }
}

/** The least that a browser does between Enter and the paint: one field, one text that changes. */
async function floor(plant: LinePlant): Promise<PaintSample[]> {
  const browser = await launchBrowser();
  try {
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 800 } })).newPage();
    await installPaintProbe(page);
    await page.route(`${plant.address}/floor`, (route) =>
      route.fulfill({
        contentType: "text/html",
        body: `<input autofocus onkeydown="if(event.key==='Enter'){this.value='';p.firstChild.data=++n}"><p id="p">0</p><script>let n=0</script>`,
      }),
    );
    await page.goto(`${plant.address}/floor`);
    await page.focus("input");
    await slowDown(page);
    for (let at = 1; at <= FLOOR_ENTERS; at += 1) {
      await expectPaint(page, [{ selector: "#p", text: String(at) }]);
      await page.keyboard.type("40.975", { delay: WEDGE_MS });
      await page.keyboard.press("Enter");
      await page.waitForTimeout(60);
    }
    return (await takePaintSamples(page)).slice(20);
  } finally {
    await browser.close();
  }
}

function figures(name: string, samples: readonly PaintSample[], goal: number | null): BenchLine[] {
  const painted = samples.map(({ paintedMs }) => paintedMs);
  const events = samples.flatMap(({ eventMs }) => eventMs ?? []);
  const settled = samples.flatMap(({ settledMs }) => settledMs ?? []);
  return [
    told(`${name}: Enters`, samples.length),
    told(`${name}: Enter to painted, median, ms`, quantile(painted, 0.5)),
    { name: `${name}: Enter to painted, 95 %, ms`, value: quantile(painted, 0.95), goal },
    told(`${name}: Enter to painted, longest, ms`, Math.max(...painted)),
    ...(events.length > 0 ? [told(`${name}: by the browser's event timing, 95 %, ms`, quantile(events, 0.95))] : []),
    ...(settled.length > 0 ? [told(`${name}: drawing and table too, 95 %, ms`, quantile(settled, 0.95))] : []),
  ];
}

/** The Line in a browser with its processor slowed four times, on the built application. */
export async function bench(): Promise<BenchLine[]> {
  const plant = await startLinePlant();
  try {
    const lines: BenchLine[] = [];
    const floorSamples = await floor(plant);
    lines.push(...figures("floor, one text", floorSamples, null));
    for (const one of [
      { plan: "routine", delay: PERSON_MS, readings: READINGS / 4 },
      { plan: "routine", delay: WEDGE_MS, readings: READINGS },
      { plan: "full", delay: WEDGE_MS, readings: READINGS },
    ] as const) {
      const [inner = [], last = []] = await enterToPainted(plant, one);
      const name = `${one.plan} plan, ${one.delay === WEDGE_MS ? "gauge types" : "4 keys a second"}`;
      lines.push(...figures(name, inner, 50), ...figures(`${name}, verdict`, last, null));
    }
    return lines;
  } finally {
    await plant.stop();
  }
}
