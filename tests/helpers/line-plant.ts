import { randomBytes } from "node:crypto";
import { spawn, type ChildProcess } from "node:child_process";
import { chmodSync, existsSync, mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import type { BrowserContext } from "playwright-core";
import { closeConnections } from "@/lib/server/db/client";
import { startEmbedded, type EmbeddedServer } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { createPerson } from "@/lib/server/people/commands";
import { createTestPlant, type TestPlant } from "./plant";
import { freePort } from "./running-start";

const ROOT = path.resolve(import.meta.dirname, "../..");
const PASSWORD = "a long word for tests";
const READY_MS = 60_000;

/** A plant on an embedded server with full durability, and the built application on it; both can be killed and come back. */
export type LinePlant = {
  readonly address: string;
  /** Makes a plant with one batch, and an inspector who can sign in. */
  readonly addPlant: (options: { frames: number; plan: "full" | "routine" }) => Promise<TestPlant & { email: string }>;
  /** Signs the inspector in, for every page of the context. */
  readonly signIn: (context: BrowserContext, email: string) => Promise<void>;
  /** Kills the application as a power cut would. */
  readonly killApp: () => Promise<void>;
  readonly startApp: () => Promise<void>;
  /** Kills the database server as a power cut would; the application stays. */
  readonly killDatabase: () => Promise<void>;
  readonly startDatabase: () => Promise<void>;
  readonly stop: () => Promise<void>;
};

async function waitForAnswer(address: string, child: ChildProcess): Promise<void> {
  const deadline = performance.now() + READY_MS;
  while (performance.now() < deadline) {
    if (child.exitCode !== null) throw new Error(`the built application ended with ${child.exitCode}`);
    const answers = await fetch(`${address}/api/v1/alive`).then(
      (response) => response.ok,
      () => false,
    );
    if (answers) return;
    await sleep(50);
  }
  throw new Error("the built application did not answer");
}

async function ended(child: ChildProcess): Promise<void> {
  if (child.exitCode === null && child.signalCode === null)
    await new Promise<void>((resolve) => child.once("exit", () => resolve()));
}

/** Starts both on free ports, in a folder of their own. */
export async function startLinePlant(): Promise<LinePlant> {
  if (!existsSync(path.join(ROOT, ".next/BUILD_ID"))) throw new Error("there is no build: run npm run build first");
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-line-"));
  chmodSync(folder, 0o755);
  let database: EmbeddedServer = await startEmbedded({ folder });
  const { port: databasePort } = database;
  const port = await freePort();
  const address = `http://localhost:${port}`;
  const env = {
    DATABASE_URL: database.appUrl(),
    AUTH_SECRET: randomBytes(32).toString("hex"),
    LOG_LEVEL: "error",
    SHELLGATE_ORIGIN: address,
  };
  Object.assign(process.env, env);
  let app: ChildProcess | null = null;

  const startApp = async (): Promise<void> => {
    const next = path.join(ROOT, "node_modules/next/dist/bin/next");
    app = spawn(process.execPath, [next, "start", "-p", String(port), "-H", "127.0.0.1"], {
      cwd: ROOT,
      env: { ...process.env, ...env, NODE_ENV: "production" },
      stdio: "ignore",
    });
    await waitForAnswer(`http://127.0.0.1:${port}`, app);
  };
  const killApp = async (): Promise<void> => {
    app?.kill("SIGKILL");
    if (app !== null) await ended(app);
    app = null;
  };
  const stop = async (): Promise<void> => {
    await killApp();
    await closeConnections();
    await database.stop();
    rmSync(folder, { recursive: true, force: true });
  };
  try {
    await prepareDatabase({ ownerUrl: database.url(), appUrl: database.appUrl() });
    await startApp();
  } catch (error) {
    await stop();
    throw error;
  }
  let plants = 0;
  return {
    address,
    addPlant: async (options) => {
      const plant = await createTestPlant(options);
      plants += 1;
      const email = `inspector${plants}@example.org`;
      await createPerson(await plant.as("administrator"), {
        name: `Inspector ${plants}`,
        roles: ["inspector"],
        account: { email, password: PASSWORD },
      });
      return { ...plant, email };
    },
    signIn: async (context, email) => {
      const data = { email, password: PASSWORD };
      const answer = await context.request.post(`${address}/api/auth/sign-in`, { data, headers: { origin: address } });
      if (answer.status() !== 204) throw new Error(`sign-in answered ${answer.status()}`);
    },
    killApp,
    startApp,
    killDatabase: async () => {
      // SIGQUIT ends server and backends at once, without writing anything more, as the loss of power does.
      process.kill(database.pid, "SIGQUIT");
      await database.ended;
    },
    startDatabase: async () => {
      database = await startEmbedded({ folder, port: databasePort });
    },
    stop,
  };
}
