import { createHash, randomBytes, X509Certificate } from "node:crypto";
import { chmodSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import type { TestProject } from "vitest/node";
import { findRunningServer } from "@/lib/server/db/embedded";
import { freePort, runStart, type RunningStart } from "./running-start";

declare module "vitest" {
  interface ProvidedContext {
    /** http://localhost:PORT, with the demo plant loaded. */
    appAddress: string;
    /** https://plant.test:PORT, a second process on the same database, answering on all addresses. */
    httpsAddress: string;
    /** Switches for launchBrowser: plant.test leads to this machine, its certificate is the plant's own. */
    httpsBrowserArguments: string[];
    /** File of the plant's certificate authority, for requests from Node. */
    authorityFile: string;
    /** Address of the database of both, as the application has it. */
    appDatabase: string;
    /** The same for the owner of its tables. */
    ownerDatabase: string;
  }
}

const HTTPS_NAME = "plant.test";

/** Starts what people start: once plainly on the loopback address, once for tablets. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-e2e-"));
  chmodSync(folder, 0o755);
  const started: RunningStart[] = [];
  const stop = async (): Promise<void> => {
    for (const start of started.toReversed()) await start.stop();
    rmSync(folder, { recursive: true, force: true });
  };
  const begin = async (args: readonly string[], env: Record<string, string>): Promise<void> => {
    const start = runStart({ args, env });
    started.push(start);
    await start.waitFor("Ctrl-C stops it.");
  };
  try {
    const [port, httpsPort] = [await freePort(), await freePort()];
    const [plainData, httpsData] = [path.join(folder, "plain"), path.join(folder, "https")];
    // Processes on one database seal and unseal with one key, as several machines of a plant do.
    const key = { AUTH_SECRET: randomBytes(32).toString("hex") };
    await begin(["--data", plainData], { PORT: String(port), ...key });
    const database = findRunningServer(plainData);
    if (database === null) throw new Error("the started plant has no running database");
    const shared = {
      ...key,
      PORT: String(httpsPort),
      DATABASE_URL: database.appUrl(),
      DATABASE_OWNER_URL: database.url(),
    };
    await begin(["--data", httpsData, "--lan", HTTPS_NAME, "--demo-on-network"], shared);
    project.provide("appAddress", `http://localhost:${port}`);
    project.provide("httpsAddress", `https://${HTTPS_NAME}:${httpsPort}`);
    project.provide("httpsBrowserArguments", [
      `--host-resolver-rules=MAP ${HTTPS_NAME} 127.0.0.1`,
      "--ignore-certificate-errors-spki-list=" + publicKeyHash(path.join(httpsData, "tls/server.crt")),
    ]);
    project.provide("authorityFile", path.join(httpsData, "tls/plant-ca.crt"));
    project.provide("appDatabase", database.appUrl());
    project.provide("ownerDatabase", database.url());
  } catch (error) {
    await stop();
    throw error;
  }
  return stop;
}

/** As Chromium wants it: it takes a server that shows this key for trusted, as a tablet does after trusting the authority. */
function publicKeyHash(certificateFile: string): string {
  const certificate = new X509Certificate(readFileSync(certificateFile));
  const key = certificate.publicKey.export({ type: "spki", format: "der" });
  return createHash("sha256").update(key).digest("base64");
}
