import type { Page } from "playwright-core";

/**
 * Opens a held batch from the list and returns its key: the first one, or the first with such a reason, since other tests hold
 * batches of the same plant, too.
 */
export async function openHeldBatch(page: Page, base: string, reason?: RegExp): Promise<string> {
  await page.goto(`${base}/gate?state=held`);
  const keys = await page.locator("tbody th a").allInnerTexts();
  for (const [place, key] of keys.entries()) {
    if (place > 0) await page.goto(`${base}/gate?state=held`);
    await page.locator("tbody th a").nth(place).click();
    await page.waitForURL(`${base}/gate/batches/${key}`);
    await page.locator("ol li").first().waitFor();
    const reasons = await page.locator("ol li").allInnerTexts();
    if (reason === undefined || reasons.some((text) => reason.test(text))) return key;
  }
  throw new Error(`no batch is held for ${reason?.source ?? "anything"}`);
}
