import type { ChildProcess } from "node:child_process";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { AppError } from "@/lib/errors";
import type { Children } from "./children";
import type { Lifecycle } from "./lifecycle";
import { keepStarted } from "./restart-policy";

const READY_TIMEOUT_MS = 120_000;

type Web = {
  readonly root: string;
  readonly dev: boolean;
  readonly port: number;
  readonly env: NodeJS.ProcessEnv;
  readonly children: Children;
  readonly lifecycle: Lifecycle;
  readonly warn: (text: string) => void;
  readonly fail: (error: unknown) => void;
};

/** Settles when Next says that it is ready; what it says after that is passed on. */
function waitUntilReady(child: ChildProcess): Promise<void> {
  return new Promise((resolve, reject) => {
    let said = "";
    let isReady = false;
    const giveUp = (why: string): void =>
      reject(new AppError("unavailable", `The web server did not start: ${why}\n${said.trim()}`));
    const timer = setTimeout(() => giveUp(`not ready after ${READY_TIMEOUT_MS / 1000} s`), READY_TIMEOUT_MS);
    child.stdout?.on("data", (chunk: Buffer) => {
      if (isReady) {
        if (!chunk.includes("next.config")) process.stdout.write(chunk);
        return;
      }
      said += chunk.toString();
      if (!/Ready in/.test(said)) return;
      isReady = true;
      clearTimeout(timer);
      resolve();
    });
    child.once("error", (error) => giveUp(error.message));
    child.once("exit", (code, signal) => {
      clearTimeout(timer);
      if (!isReady) giveUp(`it ended with ${signal ?? code}`);
    });
  });
}

/** Starts the application on the loopback address, and again if it ends by itself. */
export async function startWeb(web: Web): Promise<void> {
  const { root, dev, port, env, children, lifecycle, warn, fail } = web;
  const next = path.join(root, "node_modules/next/dist/bin/next");
  const start = async (): Promise<void> => {
    const child = children.start([next, dev ? "dev" : "start", "-H", "127.0.0.1", "-p", String(port)], {
      cwd: root,
      env,
      stdio: ["ignore", "pipe", "inherit"],
    });
    await waitUntilReady(child);
    child.once("exit", () => void startAgain());
  };
  const startAgain = keepStarted({
    name: "The web server",
    start,
    isEnding: () => lifecycle.isEnding,
    warn,
    fail,
    sleep,
    now: Date.now,
  });
  await start();
}
