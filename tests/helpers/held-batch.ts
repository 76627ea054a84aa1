import type { Page } from "playwright-core";

/**
 * Opens the first batch that is held, through the list as people do.
 *
 * @returns the batch's key
 */
export async function openHeldBatch(page: Page, base: string): Promise<string> {
  await page.goto(`${base}/gate?state=held`);
  const link = page.locator("tbody th a").first();
  const key = await link.innerText();
  await link.click();
  await page.waitForURL(`${base}/gate/batches/${key}`);
  return key;
}
