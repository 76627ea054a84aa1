import net from "node:net";
import { AppError } from "@/lib/errors";

const DEFAULT_PORT = 3000;
const PORTS_TRIED = 100;

function listens(port: number, host: string | undefined): Promise<NodeJS.ErrnoException | null> {
  return new Promise((resolve) => {
    const probe = net.createServer();
    probe.once("error", resolve);
    probe.listen({ port, host, exclusive: true }, () => probe.close(() => resolve(null)));
  });
}

/** Why a port cannot be used, or null. A machine without the second loopback address does not need it. */
async function obstacle(port: number, hosts: readonly (string | undefined)[]): Promise<string | null> {
  for (const host of hosts) {
    const error = await listens(port, host);
    if (error !== null && error.code !== "EADDRNOTAVAIL" && error.code !== "EAFNOSUPPORT")
      return error.code ?? "unknown";
  }
  return null;
}

const LOOPBACK = ["127.0.0.1", "::1"];

/**
 * The port to answer on: the one asked for, or else 3000 or the next free one.
 *
 * @param asked - the text of PORT, undefined when not given
 * @param everywhere - true when it is for all addresses of the machine, not only the loopback
 * @throws AppError when the port asked for is no port, is taken or is not allowed
 */
export async function choosePort(asked: string | undefined, everywhere: boolean): Promise<number> {
  const hosts = everywhere ? [undefined] : LOOPBACK;
  if (asked !== undefined && asked !== "") {
    const port = Number(asked);
    if (!Number.isInteger(port) || port < 1 || port > 65_535) {
      throw new AppError("invalid-input", `PORT must be a whole number from 1 to 65535; it is "${asked}".`);
    }
    const why = await obstacle(port, hosts);
    if (why === null) return port;
    if (why === "EACCES") {
      throw new AppError(
        "unavailable",
        `Port ${port} may be opened by the administrator of this machine only. Give one above 1023, e.g. PORT=3000.`,
      );
    }
    throw new AppError(
      "unavailable",
      `Port ${port} is taken by another program. Stop that program or give another port, e.g. PORT=${port + 1}.`,
    );
  }
  for (let port = DEFAULT_PORT; port < DEFAULT_PORT + PORTS_TRIED; port += 1) {
    if ((await obstacle(port, hosts)) === null) return port;
  }
  throw new AppError(
    "unavailable",
    `No port from ${DEFAULT_PORT} to ${DEFAULT_PORT + PORTS_TRIED - 1} is free. Give one with PORT.`,
  );
}

/** A free port on the loopback address, for what only this machine uses. */
export async function anyFreePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = net.createServer();
    probe.once("error", reject);
    probe.listen(0, "127.0.0.1", () => {
      const address = probe.address();
      probe.close(() => resolve(typeof address === "object" && address !== null ? address.port : 0));
    });
  });
}
