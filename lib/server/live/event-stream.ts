import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { listenLive } from "./live-channel";
import { watchAdmission } from "./watch-admission";

const BEAT_MS = 20_000;
/** Changes that come closer together than this are told once. */
const GATHER_MS = 100;

/** Stands among the lines for what was done elsewhere: a decision, a zero check, a case. */
const ELSEWHERE = "plant";

/**
 * Server-sent events of one plant: `changed` with the lines on which something was measured, `plant` for what was done otherwise. A new connection, and one that
 * had to be made again, begins with `changed` for all lines, so that nothing that happened in between is missed. It ends
 * within seconds when its reader is let in no more.
 */
export function liveEvents(viewer: Viewer, signal: AbortSignal): Response {
  assertMay(viewer, "drift.view");
  const encoder = new TextEncoder();
  let stop = (): void => undefined;
  const stream = new ReadableStream<Uint8Array>({
    start(controller) {
      const pending = new Set<string>();
      let timer: NodeJS.Timeout | null = null;
      let closed = false;
      const send = (text: string): void => {
        if (!closed) controller.enqueue(encoder.encode(text));
      };
      const flush = (): void => {
        timer = null;
        send(`event: changed\ndata: ${JSON.stringify({ lines: [...pending] })}\n\n`);
        pending.clear();
      };
      const unlisten = listenLive((message) => {
        if (message !== "reconnected" && message.plant !== viewer.plantId) return;
        pending.add(message === "reconnected" ? "*" : (message.line ?? ELSEWHERE));
        timer ??= setTimeout(flush, GATHER_MS);
      });
      const unwatch = watchAdmission(viewer, "drift.view", () => stop());
      const beat = setInterval(() => send(": still here\n\n"), BEAT_MS);
      stop = () => {
        if (closed) return;
        closed = true;
        unlisten();
        unwatch();
        clearInterval(beat);
        if (timer !== null) clearTimeout(timer);
        try {
          controller.close();
        } catch {
          // The client closed it first.
        }
      };
      signal.addEventListener("abort", stop, { once: true });
      if (signal.aborted) return stop();
      send(`retry: 1000\nevent: changed\ndata: ${JSON.stringify({ lines: ["*"] })}\n\n`);
    },
    cancel: () => stop(),
  });
  return new Response(stream, {
    headers: {
      "content-type": "text/event-stream; charset=utf-8",
      "cache-control": "no-cache, no-transform",
      "x-accel-buffering": "no",
    },
  });
}
