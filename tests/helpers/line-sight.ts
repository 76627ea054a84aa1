import { setTimeout as sleep } from "node:timers/promises";
import type { BrowserContext, Page } from "playwright-core";

/** What an inspector sees of Line at a glance. */
export type LineSight =
  | { readonly at: "waiting" | "choose" | "verdict" }
  | {
      readonly at: "keying";
      readonly serial: string;
      /** Place of the asked reading, from 0. */
      readonly asked: number;
      /** Readings of this frame that the screen says are kept; null where it speaks of other frames, too. */
      readonly kept: number | null;
    };

const SEEN_MS = 90_000;

/** Looks at the page once; a page that is just loading counts as waiting. */
export async function lookAtLine(page: Page): Promise<LineSight> {
  return page
    .evaluate((): LineSight => {
      const elsewhere = [...document.querySelectorAll("button")].find((button) => button.textContent === "Go on here");
      elsewhere?.click();
      const panel = document.querySelector("section[aria-label='Asked reading']");
      const asked = /reading (\d+) of/.exec(panel?.textContent ?? "")?.[1];
      if (asked !== undefined) {
        const box = document.querySelector("header [role=status]")?.textContent ?? "";
        const kept = /^(\d+) readings? saved on this tablet(?:last frame sent|nothing to send)/.exec(box)?.[1];
        return {
          at: "keying",
          serial: document.querySelector("header p")?.textContent ?? "",
          asked: Number(asked) - 1,
          kept: kept === undefined ? null : Number(kept),
        };
      }
      const heading = document.querySelector("main h1")?.textContent ?? "";
      if (heading === "Scan a frame") return { at: "choose" };
      return { at: /^(conforms|not proven|does not conform)/.test(heading) ? "verdict" : "waiting" };
    })
    .catch((): LineSight => ({ at: "waiting" }));
}

/** Looks until it is there; fails with the words on the screen. */
export async function untilSeen(
  page: Page,
  seen: (sight: LineSight) => boolean,
  what: string,
  withinMs = SEEN_MS,
): Promise<LineSight> {
  const deadline = performance.now() + withinMs;
  for (;;) {
    const sight = await lookAtLine(page);
    if (seen(sight)) return sight;
    if (performance.now() > deadline) {
      const words = await page
        .evaluate(() => {
          const keyed = document.querySelector<HTMLInputElement>("#reading")?.value ?? "no field";
          const focus = document.activeElement?.id || document.activeElement?.tagName;
          return `${document.body.innerText.replace(/\s+/g, " ")} (keyed: ${keyed}; focus: ${focus})`;
        })
        .catch(() => "no page");
      throw new Error(`${what} did not come; on the screen (${page.url()}) is:\n${words}`);
    }
    await sleep(15);
  }
}

/** A new page with Line: from the server or, where that is away, from the device. */
export async function openLine(context: BrowserContext, address: string): Promise<Page> {
  const page = await context.newPage();
  for (let attempt = 1; ; attempt += 1) {
    const failed = await page.goto(`${address}/line`, { waitUntil: "commit" }).then(
      () => null,
      (error: unknown) => error,
    );
    if (failed === null) return page;
    if (attempt === 5) throw failed;
    await sleep(500);
  }
}

/** Until the program is on the device and in charge of the page. */
export async function waitForWorker(page: Page): Promise<void> {
  await page.evaluate(async () => {
    await navigator.serviceWorker.ready;
  });
  await page.reload();
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
}
