import type { Page } from "playwright-core";

/** Most script that Line may need for its first screen, compressed, bytes. */
export const FIRST_LOAD_BYTES = 200_000;

/** In the page, from its first line on: when the first screen had been drawn, ms from the start of the navigation. */
export const FIRST_LOAD_PROBE = `(() => {
  const look = () => {
    if (document.querySelector("main h1") === null) return requestAnimationFrame(look);
    const channel = new MessageChannel();
    channel.port1.onmessage = () => { window.firstScreenAfter = performance.now(); };
    channel.port2.postMessage(null);
  };
  requestAnimationFrame(look);
})()`;

export type FirstLoad = {
  /** Script that was asked for before the first screen was drawn, compressed as it came, bytes. */
  readonly first: number;
  /** Script that came after it. */
  readonly later: number;
};

/** What a page that was opened with the probe, without a worker, loaded over the network. */
export async function firstLoadBytes(page: Page): Promise<FirstLoad> {
  const { drawn, scripts } = await page.evaluate(() => ({
    drawn: (window as unknown as { firstScreenAfter?: number }).firstScreenAfter ?? Number.NaN,
    scripts: (performance.getEntriesByType("resource") as PerformanceResourceTiming[])
      .filter(({ initiatorType, name }) => initiatorType === "script" || new URL(name).pathname.endsWith(".js"))
      .map(({ startTime, encodedBodySize }) => ({ startTime, bytes: encodedBodySize })),
  }));
  if (Number.isNaN(drawn)) throw new Error("the first screen was not drawn");
  const all = scripts.reduce((sum, { bytes }) => sum + bytes, 0);
  const first = scripts.reduce((sum, { startTime, bytes }) => sum + (startTime < drawn ? bytes : 0), 0);
  return { first, later: all - first };
}
