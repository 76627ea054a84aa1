import { once } from "node:events";
import http, { type IncomingMessage } from "node:http";
import type { AddressInfo } from "node:net";

export type ReceivedCall = {
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
};

/** A program that is told over HTTP on the loopback address, and what it was told. */
export type WebhookReceiver = {
  readonly url: string;
  readonly calls: readonly ReceivedCall[];
  readonly close: () => Promise<void>;
};

async function bodyOf(request: IncomingMessage): Promise<string> {
  const parts: Buffer[] = [];
  for await (const part of request) parts.push(part as Buffer);
  return Buffer.concat(parts).toString("utf8");
}

/**
 * @param answer - the status of each call, or what is done with the response instead of one
 */
export async function startReceiver(
  answer: (call: ReceivedCall, count: number, response: http.ServerResponse) => number | null = () => 204,
): Promise<WebhookReceiver> {
  const calls: ReceivedCall[] = [];
  const server = http.createServer((request, response) => {
    void bodyOf(request).then((body) => {
      const headers = Object.fromEntries(Object.entries(request.headers).map(([name, value]) => [name, String(value)]));
      const call = { headers, body };
      calls.push(call);
      const status = answer(call, calls.length, response);
      if (status !== null) response.writeHead(status).end(status < 300 ? "" : "not now");
    });
  });
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/hook`,
    calls,
    close: async () => {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
