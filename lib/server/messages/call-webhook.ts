import "server-only";
import dns from "node:dns/promises";
import http from "node:http";
import https from "node:https";
import { isIP, type LookupFunction } from "node:net";
import { Webhook } from "standardwebhooks";
import { headerText } from "@/lib/format/message-mail";
import { addressRefusal } from "./address-guard";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.callWebhook;

/** From the name's look-up to the last byte that is read. */
const DEADLINE_MS = 10_000;
/** Of an answer so much is kept, and no more than that is read. */
const MOST_KEPT = 300;
const MOST_READ = 16 * 1024;

export type WebhookCall = {
  readonly url: string;
  /** The same at each try and for ever: a receiver knows a duplicate by it. */
  readonly eventId: string;
  readonly body: string;
  /** All that hold now, the newest first. */
  readonly secrets: readonly string[];
  readonly ownNetwork: boolean;
  readonly at: Date;
};

export type CallOutcome = {
  readonly taken: boolean;
  readonly status: number | null;
  /** What the receiver said, or why it was not reached. */
  readonly answer: string;
};

/** Thrown where the call is not made, in words. */
class CallRefused extends Error {}

/**
 * The address that is called: asked of the name system now, each answer checked, and the connection made to that very address, so
 * that another answer a moment later changes nothing.
 */
async function addressOf(url: URL, ownNetwork: boolean): Promise<{ address: string; family: number }> {
  const host = url.hostname.replace(/^\[|\]$/g, "");
  const found =
    isIP(host) === 0 ? await dns.lookup(host, { all: true, verbatim: true }) : [{ address: host, family: isIP(host) }];
  for (const { address } of found) {
    const refusal = addressRefusal(address, ownNetwork);
    if (refusal !== null) throw new CallRefused(`Not called: ${refusal}.`);
  }
  const [first] = found;
  if (first === undefined) throw new CallRefused("Not called: the name has no address.");
  return first;
}

/** @throws CallRefused where the address is none that may be called */
function checkedUrl(text: string, ownNetwork: boolean): URL {
  if (!URL.canParse(text)) throw new CallRefused("Not called: this is no address.");
  const url = new URL(text);
  if (url.protocol !== "https:" && !(url.protocol === "http:" && ownNetwork))
    throw new CallRefused("Not called: only https is, or http where the plant allows its own network.");
  if (url.username !== "" || url.password !== "")
    throw new CallRefused("Not called: a user or password in the address would stand in logs.");
  return url;
}

/** `webhook-signature` of Standard Webhooks: one signature for each secret that holds. */
function signatures({ secrets, eventId, at, body }: WebhookCall): string {
  return secrets.map((secret) => new Webhook(secret).sign(eventId, at, body)).join(" ");
}

function request(url: URL, pinned: { address: string; family: number }, call: WebhookCall): Promise<CallOutcome> {
  const pin: LookupFunction = (_name, options, answer) =>
    options.all ? answer(null, [pinned]) : answer(null, pinned.address, pinned.family);
  const body = Buffer.from(call.body);
  return new Promise((resolve, reject) => {
    const sent = (url.protocol === "https:" ? https : http).request(
      url,
      {
        method: "POST",
        lookup: pin,
        agent: false,
        signal: AbortSignal.timeout(DEADLINE_MS),
        headers: {
          "content-type": "application/json",
          "content-length": body.length,
          "user-agent": "Shellgate",
          "webhook-id": call.eventId,
          "webhook-timestamp": Math.floor(call.at.getTime() / 1000),
          "webhook-signature": signatures(call),
        },
      },
      (response) => {
        const status = response.statusCode ?? 0;
        const parts: Buffer[] = [];
        let read = 0;
        const done = (): void => {
          const text = headerText(Buffer.concat(parts).toString("utf8").slice(0, MOST_KEPT));
          const moved = status >= 300 && status < 400 ? words.leadsToAnotherAddress : "";
          resolve({ taken: status >= 200 && status < 300, status, answer: `${moved}${text}` });
        };
        response.on("data", (part: Buffer) => {
          parts.push(part);
          read += part.length;
          if (read <= MOST_READ) return;
          done();
          sent.destroy();
        });
        response.on("end", done);
        // What took the message and broke off while it answered has taken it: its status came before.
        response.on("error", done);
      },
    );
    sent.on("error", reject);
    sent.end(body);
  });
}

const CODE_WORDS: Readonly<Record<string, string>> = {
  ENOTFOUND: "The name is not known.",
  EAI_AGAIN: "The name could not be looked up.",
  ECONNREFUSED: "Nothing answers at this address.",
  ECONNRESET: "The connection was broken off.",
  EHOSTUNREACH: "The address cannot be reached.",
  ENETUNREACH: "The network cannot be reached.",
  ABORT_ERR: "No answer within 10 seconds.",
  EPIPE: "The connection was broken off.",
};

function failureWords(error: unknown): string {
  if (error instanceof CallRefused) return error.message;
  const { code = "", name, message } = error as NodeJS.ErrnoException;
  if (name === "TimeoutError" || name === "AbortError") return words.noAnswerWithin10Seconds;
  return CODE_WORDS[code] ?? words.notReached(headerText(message));
}

/** Calls a webhook once, signed. It never throws for what the receiver does. */
export async function callWebhook(call: WebhookCall): Promise<CallOutcome> {
  try {
    const url = checkedUrl(call.url, call.ownNetwork);
    return await request(url, await addressOf(url, call.ownNetwork), call);
  } catch (error) {
    return { taken: false, status: null, answer: failureWords(error) };
  }
}
