import type { Browser, Page } from "playwright-core";
import { addressOf, APP_PAGES } from "./app-pages";
import { layoutFaults, lengthenTexts } from "./layout-faults";
import { axeViolations, signedIn } from "./signed-in";

/** Heights of the windows in which pages are looked at, by their widths. */
export const WINDOW_HEIGHTS = { 390: 844, 768: 1024, 1024: 768, 1280: 800, 1440: 900 } as const;
export type WindowWidth = keyof typeof WINDOW_HEIGHTS;

/** A window and a theme in which the rules of accessibility are asked. */
export type Sight = { readonly width: WindowWidth; readonly colorScheme: "light" | "dark" };

/** A desk in the light theme and a phone in the dark one; npm run test:long looks at desk, tablet and phone in both. */
export const SIGHTS: readonly Sight[] =
  process.env.EVERY_SIGHT === "1"
    ? ([1440, 1024, 390] as const).flatMap((width) =>
        (["light", "dark"] as const).map((colorScheme) => ({ width, colorScheme })),
      )
    : [
        { width: 1440, colorScheme: "light" },
        { width: 390, colorScheme: "dark" },
      ];

/** Rules of accessibility that an open page breaks in some sights, what is too wide, and tables cut on a phone. */
export async function sightFaults(page: Page, name: string, sights: readonly Sight[] = SIGHTS): Promise<string[]> {
  await page.locator("h1, h2").first().waitFor();
  const faults: string[] = [];
  for (const { width, colorScheme } of sights) {
    await page.emulateMedia({ colorScheme });
    await page.setViewportSize({ width, height: WINDOW_HEIGHTS[width] });
    await settled(page);
    const found = await page.evaluate(() => {
      const over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
      const tables = innerWidth > 600 ? [] : [...document.querySelectorAll("[role=region]:has(> table)")];
      return [
        ...(over > 0 ? [`${over} px too wide`] : []),
        ...tables
          .filter((region) => region.scrollWidth > region.clientWidth)
          .map((region) => `${region.getAttribute("aria-label")} is cut`),
      ];
    });
    faults.push(
      ...[...(await axeViolations(page)), ...found].map((fault) => `${name} at ${width}, ${colorScheme}: ${fault}`),
    );
  }
  return faults;
}

/** Charts follow their place a frame later. */
const settled = (page: Page): Promise<void> =>
  page.evaluate(
    () => new Promise<void>((resolve) => requestAnimationFrame(() => requestAnimationFrame(() => resolve()))),
  );

export type Walk = {
  readonly widths: readonly WindowWidth[];
  /** Every address of a route, or the first of each. */
  readonly every: boolean;
  /** Where the rules of accessibility are asked, too, with the page's own words. */
  readonly sights?: readonly Sight[];
  /** Called for each page at each width, with what it is called: for pictures. */
  readonly onPage?: (page: Page, name: string) => Promise<void>;
};

/** Faults of one page at all widths, with its own words and with longer ones. */
export async function pageFaults(
  page: Page,
  name: string,
  { widths, sights = [], onPage }: Omit<Walk, "every">,
): Promise<string[]> {
  await page.locator("h1, h2").first().waitFor();
  await page.evaluate(() => document.fonts.ready.then(() => undefined));
  const faults = await sightFaults(page, name, sights);
  for (const words of ["own words", "longer words"]) {
    if (words === "longer words") await lengthenTexts(page);
    for (const width of widths) {
      await page.setViewportSize({ width, height: WINDOW_HEIGHTS[width] });
      await settled(page);
      const called = `${name} at ${width}, ${words}`;
      faults.push(...(await layoutFaults(page)).map((fault) => `${called}: ${fault}`));
      await onPage?.(page, called);
    }
  }
  return faults;
}

/** Walks every page of the demo plant. */
export async function walkPages(browser: Browser, base: string, walk: Walk): Promise<string[]> {
  const faults: string[] = [];
  const roles = new Set(Object.values(APP_PAGES).map(({ as }) => as));
  for (const role of roles) {
    const { context, page } =
      role === null
        ? await browser.newContext().then(async (made) => ({ context: made, page: await made.newPage() }))
        : await signedIn(browser, base, role);
    for (const { as, at } of Object.values(APP_PAGES)) {
      if (as !== role) continue;
      for (const place of walk.every ? at : at.slice(0, 1)) {
        const address = await addressOf(context, base, place);
        const answer = await page.goto(`${base}${address}`);
        if (answer?.status() !== 200) faults.push(`${address} answers ${answer?.status()}`);
        else faults.push(...(await pageFaults(page, address, walk)));
      }
    }
    await context.close();
  }
  return faults;
}
