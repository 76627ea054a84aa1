import "server-only";
import pg from "pg";
import { z } from "zod";
import { environment } from "../base/env";
import { log } from "../base/log";

/** What changed: something was measured on a line; without a line, something was done in the plant. Screens fetch what they show themselves. */
export type LiveMessage = { readonly plant: string; readonly line: string | null; readonly at: number };

const messageSchema = z.object({ plant: z.uuid(), line: z.uuid().nullable(), at: z.number() });
type Listener = (message: LiveMessage | "reconnected") => void;
type Channel = { listeners: Set<Listener>; client: pg.Client | null; retryMs: number };
type Holder = typeof globalThis & { shellgateLive?: Channel };

const FIRST_RETRY_MS = 250;
const LONGEST_RETRY_MS = 10_000;

function channel(): Channel {
  const holder: Holder = globalThis;
  holder.shellgateLive ??= { listeners: new Set(), client: null, retryMs: FIRST_RETRY_MS };
  return holder.shellgateLive;
}

function tell(message: LiveMessage | "reconnected"): void {
  for (const listener of channel().listeners) listener(message);
}

/** Whoever may connect to the database may notify: what is no JSON is no message. */
function asJson(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return null;
  }
}

function onNotification(payload: string | undefined): void {
  const parsed = messageSchema.safeParse(asJson(payload ?? ""));
  if (parsed.success) tell(parsed.data);
}

/** Forgets a lost connection and tries again after a while, as long as somebody listens. */
function retryLater(client: pg.Client): void {
  const state = channel();
  if (state.client !== client) return;
  state.client = null;
  client.removeAllListeners();
  client.on("error", () => undefined);
  void client.end().catch(() => undefined);
  const wait = state.retryMs;
  state.retryMs = Math.min(LONGEST_RETRY_MS, wait * 2);
  setTimeout(() => {
    if (state.listeners.size > 0 && state.client === null) void connect(true);
  }, wait).unref();
}

async function connect(again: boolean): Promise<void> {
  const state = channel();
  const client = new pg.Client({
    connectionString: environment("DATABASE_URL"),
    application_name: "shellgate live",
    keepAlive: true,
  });
  state.client = client;
  client.on("notification", ({ payload }) => onNotification(payload));
  client.on("error", (error) => {
    log.warn("the live connection was lost", { error });
    retryLater(client);
  });
  client.on("end", () => retryLater(client));
  try {
    await client.connect();
    await client.query("listen shellgate_live");
    state.retryMs = FIRST_RETRY_MS;
    if (again) tell("reconnected");
  } catch (error) {
    log.warn("the live connection could not be made", { error });
    retryLater(client);
  }
}

/**
 * Hears of changes. All listeners of a process share one connection, which is made for the first and ended after the last.
 *
 * @returns stops listening
 */
export function listenLive(listener: Listener): () => void {
  const state = channel();
  state.listeners.add(listener);
  if (state.client === null) void connect(false);
  return () => {
    state.listeners.delete(listener);
    if (state.listeners.size > 0) return;
    const { client } = state;
    state.client = null;
    client?.removeAllListeners();
    client?.on("error", () => undefined);
    void client?.end().catch(() => undefined);
  };
}
