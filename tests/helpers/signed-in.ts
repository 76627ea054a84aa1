import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import type { Browser, BrowserContext, BrowserContextOptions, Page } from "playwright-core";
import { expect } from "vitest";
import { DEMO_PASSWORD, DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";
import type { Role } from "@/lib/schemas/people";

type StorageState = Awaited<ReturnType<BrowserContext["storageState"]>>;

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** One session a role, address and test file: the sign-in door shuts on who knocks too often. */
const sessions = new Map<string, Promise<StorageState>>();

async function signIn(browser: Browser, base: string, role: Role): Promise<StorageState> {
  const email = DEMO_SIGN_INS.find(({ roles }) => roles.includes(role))?.email ?? "";
  const context = await browser.newContext();
  const data = { email, password: DEMO_PASSWORD };
  const answer = await context.request.post(`${base}/api/auth/sign-in`, { data, headers: { origin: base } });
  expect(answer.status()).toBe(204);
  const state = await context.storageState();
  await context.close();
  return state;
}

/** A browser context in which somebody of the demo plant is signed in, with one open page. */
export async function signedIn(
  browser: Browser,
  base: string,
  role: Role,
  options: BrowserContextOptions = { viewport: { width: 1440, height: 900 } },
): Promise<{ context: BrowserContext; page: Page }> {
  const key = `${base} ${role}`;
  const session = sessions.get(key) ?? signIn(browser, base, role);
  sessions.set(key, session);
  const context = await browser.newContext({ ...options, storageState: await session });
  return { context, page: await context.newPage() };
}

/** Accessibility rules that the page breaks, each with its first place. */
export async function axeViolations(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const { axe } = globalThis as unknown as {
      axe: { run: () => Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> };
    };
    return (await axe.run()).violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html.slice(0, 160) ?? ""}`);
  });
}
