import {
  type DeviceDatabase,
  changeQueued,
  isCheck,
  isInspection,
  listOutbox,
  markCheckSent,
  markSent,
  type SentInspection,
  type StoredCheck,
  type StoredEntry,
  type StoredQueued,
} from "../device/device-database";
import { type Fetch, sendZeroCheck } from "../device/server-calls";
import { toZeroCheck } from "../device/zero-check";
import type { FrameState } from "@/lib/quality/frame-state";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";

/** What the server says of one inspection; the part of the answer that the device uses. */
type Outcome =
  | {
      readonly status: "recorded" | "repeated";
      readonly serial: string;
      readonly ordinal: number;
      readonly verdict: Verdict;
      readonly frameVerdict: Verdict;
      readonly frameState: FrameState;
      readonly held: boolean;
      readonly batch: string;
      readonly batchHeld: boolean;
      readonly warnings: readonly string[];
      readonly doubts?: readonly string[];
      readonly reasons?: readonly ToldCharacteristic[];
    }
  | {
      readonly status: "refused";
      readonly error: {
        readonly code: string;
        readonly detail: string;
        readonly details?: Readonly<Record<string, unknown>>;
      };
    };

export type SendResult =
  | { readonly kind: "sent"; readonly sent: readonly SentInspection[]; readonly refused: number; readonly left: number }
  /** A zero check went out, and the server took or refused it. */
  | { readonly kind: "checked"; readonly refused: number; readonly left: number }
  /** The server does not answer, or is too busy: try again later. */
  | { readonly kind: "away" }
  /** The session of the signed-in person has ended: the readings stay until somebody signs in. */
  | { readonly kind: "signed out" }
  /** The server refuses the whole message for a reason that no waiting mends. */
  | { readonly kind: "stuck"; readonly message: string };

/** Inspections in one message: few enough to answer in a second, many enough to clear a shift in half a minute. */
const MOST_AT_ONCE = 50;
const TIMEOUT_MS = 30_000;

function toSent(entry: StoredQueued, outcome: Extract<Outcome, { status: "recorded" | "repeated" }>, now: number) {
  const { serial, ordinal, verdict, frameVerdict, frameState, held, batch, batchHeld, warnings, doubts, reasons } =
    outcome;
  return {
    id: entry.inspection.id,
    serial,
    batch,
    sentAt: now,
    deviceVerdict: entry.deviceVerdict,
    verdict,
    frameVerdict,
    frameState,
    ordinal,
    held,
    batchHeld,
    warnings,
    ...(doubts === undefined ? {} : { doubts }),
    ...(reasons === undefined || frameVerdict === verdict ? {} : { reasons }),
  } satisfies SentInspection;
}

async function settle(
  database: DeviceDatabase,
  entries: readonly StoredQueued[],
  outcomes: readonly Outcome[],
  now: number,
): Promise<{ sent: SentInspection[]; refused: number }> {
  const sent: SentInspection[] = [];
  let refused = 0;
  for (const [at, { order, ...entry }] of entries.entries()) {
    const outcome = outcomes[at];
    if (outcome === undefined) continue;
    if (outcome.status === "refused") {
      const { code, detail, details = {} } = outcome.error;
      refused += 1;
      await changeQueued(database, order, {
        ...entry,
        state: "refused",
        refusal: { code, message: detail, details, at: now },
      });
    } else {
      const taken = toSent({ order, ...entry }, outcome, now);
      await markSent(database, order, taken);
      sent.push(taken);
    }
  }
  return { sent, refused };
}

function problemOf(answer: unknown, status: number): { code: string; detail: string } {
  const { code, detail } = (answer ?? {}) as { code?: unknown; detail?: unknown };
  return {
    code: typeof code === "string" ? code : "unexpected",
    detail: typeof detail === "string" ? detail : `The server answered ${status}.`,
  };
}

/** A frame with a refused inspection sends nothing later until a person has decided: its order would be broken. */
function sendable(outbox: readonly StoredEntry[]): StoredEntry[] {
  const blocked = new Set<string>();
  return outbox.filter((entry) => {
    if (isCheck(entry)) return entry.state === "waiting";
    if (entry.state === "refused") blocked.add(entry.inspection.serial);
    return entry.state === "waiting" && !blocked.has(entry.inspection.serial);
  });
}

/** What goes out next: a zero check by itself, or the inspections up to the next one. */
function nextToSend(waiting: readonly StoredEntry[], atOnce: number): StoredCheck | StoredQueued[] {
  const [first] = waiting;
  if (first !== undefined && isCheck(first)) return first;
  const end = waiting.findIndex(isCheck);
  return waiting.slice(0, Math.min(atOnce, end < 0 ? atOnce : end)).filter(isInspection);
}

async function sendCheck(
  database: DeviceDatabase,
  { order, ...entry }: StoredCheck,
  send: Fetch,
  now: () => number,
): Promise<SendResult> {
  const answer = await sendZeroCheck(send, toZeroCheck(entry.check));
  if (answer.kind === "away" || answer.kind === "signed out") return { kind: answer.kind };
  if (answer.kind === "refused") {
    const { code, message, details } = answer;
    const refusal = { code, message, details, at: now() };
    await changeQueued(database, order, { ...entry, state: "refused", refusal });
  } else {
    const { passed, since, held, escapes, batchesHeld, resting } = answer.value;
    const { frames, shipped } = resting ?? { frames: 0, shipped: 0 };
    const taken = { passed, since, frames, shipped, held, escapes, batchesHeld };
    await markCheckSent(database, order, { check: entry.check, sentAt: now(), answer: taken });
  }
  const left = sendable(await listOutbox(database)).length;
  return { kind: "checked", refused: answer.kind === "refused" ? 1 : 0, left };
}

/**
 * Sends the oldest waiting inspections in one message, in their order, or a zero check where it is its turn. An inspection leaves the queue only when the server
 * has answered for it by its key, so that a cut in between sends it again and the server recognises it.
 *
 * @param send - fetch, or what stands in for it
 */
export async function sendWaiting(
  database: DeviceDatabase,
  send: Fetch = (url, init) => fetch(url, init),
  now: () => number = Date.now,
  atOnce: number = MOST_AT_ONCE,
): Promise<SendResult> {
  const next = nextToSend(sendable(await listOutbox(database)), atOnce);
  if (!Array.isArray(next)) return sendCheck(database, next, send, now);
  const entries = next;
  if (entries.length === 0) return { kind: "sent", sent: [], refused: 0, left: 0 };
  let response: Response;
  let answer: unknown;
  try {
    response = await send("/api/v1/inspections", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ inspections: entries.map(({ inspection }) => inspection) }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    answer = await response.json();
  } catch {
    return { kind: "away" };
  }
  if (response.status === 401) return { kind: "signed out" };
  if (response.status === 429 || response.status >= 500) return { kind: "away" };
  const results = response.ok ? (answer as { results?: readonly Outcome[] } | null)?.results : undefined;
  if (results === undefined) {
    const problem = problemOf(answer, response.status);
    if (response.status === 403) return { kind: "stuck", message: problem.detail };
    // One entry that the server cannot read must not keep the others back: each is then sent by itself.
    if (entries.length > 1) return sendWaiting(database, send, now, 1);
    await settle(database, entries, [{ status: "refused", error: problem }], now());
    return { kind: "sent", sent: [], refused: 1, left: sendable(await listOutbox(database)).length };
  }
  // Not an answer to this message: nothing is taken from it, and the server knows again what it has.
  if (results.length !== entries.length) return { kind: "away" };
  const { sent, refused } = await settle(database, entries, results, now());
  return { kind: "sent", sent, refused, left: sendable(await listOutbox(database)).length };
}
