import type { Page } from "playwright-core";

/** One press of Enter: when it was struck, and when what it asks for was on the screen; ms after the key. */
export type PaintSample = {
  /** Until the frame in which the answer stands had been drawn by the page's main thread. */
  readonly paintedMs: number;
  /** Until the browser had put the next frame after the key's work on the screen, by its own count, in steps of 8 ms. */
  readonly eventMs: number | null;
  /** Until the rest of the screen (drawing, table) had followed. */
  readonly settledMs: number | null;
};

/** What tells, in the page, that the answer is there: elements by CSS selector, and the text that each then holds. */
export type Expected = readonly { readonly selector: string; readonly text: string }[];

/**
 * Runs in the page. The clock starts at the key's own time stamp, which the browser sets when the key arrives. In every frame
 * after it, before drawing, the page is asked whether the answer is there; a message posted then is delivered after that
 * frame has been drawn.
 */
const PROBE = `(() => {
  const samples = [];
  const probe = { samples, next: null };
  window.paintProbe = probe;
  const has = (expected) =>
    expected.every(({ selector, text }) => document.querySelector(selector)?.textContent.includes(text) ?? false);
  const whenDrawn = (from, expected, done) => {
    const look = () => {
      if (!has(expected)) { requestAnimationFrame(look); return; }
      const channel = new MessageChannel();
      channel.port1.onmessage = () => { channel.port1.close(); done(performance.now() - from); };
      channel.port2.postMessage(null);
    };
    requestAnimationFrame(look);
  };
  addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || probe.next === null) return;
    const { answer, rest } = probe.next;
    probe.next = null;
    const sample = { at: event.timeStamp, paintedMs: null, eventMs: null, settledMs: null };
    samples.push(sample);
    whenDrawn(event.timeStamp, answer, (ms) => { sample.paintedMs = ms; });
    if (rest !== null) whenDrawn(event.timeStamp, rest, (ms) => { sample.settledMs = ms; });
  }, true);
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries())
      if (entry.name === "keydown")
        for (const sample of samples) if (Math.abs(sample.at - entry.startTime) < 0.5) sample.eventMs = entry.duration;
  }).observe({ type: "event", durationThreshold: 16, buffered: true });
})();`;

type Probe = { samples: PaintSample[]; next: { answer: Expected; rest: Expected | null } | null };

/** Puts the probe into every page that is opened from now on. */
export async function installPaintProbe(page: Page): Promise<void> {
  await page.addInitScript(PROBE);
}

/** Says what the next Enter is expected to bring. */
export async function expectPaint(page: Page, answer: Expected, rest: Expected | null = null): Promise<void> {
  await page.evaluate(
    (next) => {
      (window as unknown as { paintProbe: Probe }).paintProbe.next = next;
    },
    { answer, rest },
  );
}

/** Samples so far, complete ones only, and begins anew. */
export async function takePaintSamples(page: Page): Promise<PaintSample[]> {
  return page.evaluate(() => {
    const { samples } = (window as unknown as { paintProbe: Probe }).paintProbe;
    return samples.splice(0).filter(({ paintedMs }) => paintedMs !== null);
  });
}
