import { chromium, type Browser } from "playwright-core";
import { findBrowser } from "@/lib/cli/find-browser.mjs";

const QUIET = ["--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run"];

/**
 * Debian's Chromium, without a window.
 *
 * @param args - further switches, e.g. from inject("httpsBrowserArguments") for the HTTPS instance
 */
export async function launchBrowser(args: readonly string[] = []): Promise<Browser> {
  const executablePath = findBrowser();
  if (executablePath === null) throw new Error("no Chromium was found: run npm test, which says what to install");
  const asRoot = process.getuid?.() === 0 ? ["--no-sandbox"] : [];
  return chromium.launch({ executablePath, args: [...QUIET, ...asRoot, ...args] });
}
