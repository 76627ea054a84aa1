import { once } from "node:events";
import type { AddressInfo, Socket } from "node:net";
import { SMTPServer, type SMTPServerOptions } from "smtp-server";

/** A real SMTP server on the loopback address, and what it was handed. */
export type MailBox = {
  readonly port: number;
  /** Whole messages as they came over the wire, each with the recipients that were named before it. */
  readonly taken: readonly { readonly to: readonly string[]; readonly message: string }[];
  /** Cuts every connection, as a server does that dies. */
  readonly breakOff: () => void;
  readonly close: () => Promise<void>;
};

/**
 * Starts a mail server that takes everything, without encryption or users.
 *
 * @param options - how it misbehaves, in the terms of smtp-server
 */
export async function startMailServer(options: SMTPServerOptions = {}): Promise<MailBox> {
  const taken: { to: string[]; message: string }[] = [];
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ["STARTTLS"],
    logger: false,
    closeTimeout: 100,
    onData(stream, session, done) {
      const parts: Buffer[] = [];
      stream.on("data", (part: Buffer) => parts.push(part));
      stream.on("end", () => {
        taken.push({
          to: session.envelope.rcptTo.map(({ address }) => address),
          message: Buffer.concat(parts).toString("utf8"),
        });
        done();
      });
    },
    ...options,
  });
  // A client that breaks off is part of what is tried here.
  server.on("error", () => undefined);
  const listener = server.listen(0, "127.0.0.1");
  const sockets = new Set<Socket>();
  listener.on("connection", (socket: Socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
  });
  await once(listener, "listening");
  return {
    port: (listener.address() as AddressInfo).port,
    taken,
    breakOff: () => {
      for (const socket of sockets) socket.destroy();
    },
    close: () => new Promise((resolve) => server.close(() => resolve())),
  };
}
