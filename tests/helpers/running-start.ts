import { spawn, type ChildProcess } from "node:child_process";
import net from "node:net";
import path from "node:path";

const ROOT = path.resolve(import.meta.dirname, "../..");
const READY_MS = 280_000;

const OF_THE_TEST_RUN =
  /^(NODE_ENV|VITEST.*|DATABASE_(OWNER_)?URL|PORT|INIT_CWD|npm_lifecycle_event|SHELLGATE_.*|TLS_.*)$/;

/** A start command as a person runs it, with what it has written. */
export type RunningStart = {
  readonly process: ChildProcess;
  readonly output: () => string;
  /** Settles when the text has been written; fails when the command ends before. */
  readonly waitFor: (text: string, timeoutMs?: number) => Promise<void>;
  readonly ended: Promise<number | null>;
  readonly stop: () => Promise<number | null>;
};

export type StartSettings = {
  readonly args?: readonly string[];
  readonly env?: Readonly<Record<string, string | undefined>>;
  readonly root?: string;
  readonly uid?: number;
  readonly gid?: number;
};

export async function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = net.createServer();
    probe.once("error", reject);
    probe.listen(0, "127.0.0.1", () => {
      const address = probe.address();
      probe.close(() => resolve(typeof address === "object" && address !== null ? address.port : 0));
    });
  });
}

/** Runs lib/cli/start.mjs without the settings of the test run itself. */
export function runStart(settings: StartSettings = {}): RunningStart {
  const { args = [], env = {}, root = ROOT, uid, gid } = settings;
  const ownEnv: Record<string, string | undefined> = { ...process.env, CI: "true" };
  for (const name of Object.keys(ownEnv)) if (OF_THE_TEST_RUN.test(name)) delete ownEnv[name];
  const child = spawn(process.execPath, [path.join(root, "lib/cli/start.mjs"), "--no-open", ...args], {
    cwd: root,
    env: { ...ownEnv, ...env } as NodeJS.ProcessEnv,
    stdio: ["ignore", "pipe", "pipe"],
    uid,
    gid,
  });
  let written = "";
  for (const stream of [child.stdout, child.stderr])
    stream.on("data", (chunk: Buffer) => (written += chunk.toString()));
  const ended = new Promise<number | null>((resolve) => child.once("close", (code) => resolve(code)));
  const waitFor = async (text: string, timeoutMs = READY_MS): Promise<void> => {
    const deadline = performance.now() + timeoutMs;
    let isOver = false;
    void ended.then(() => (isOver = true));
    while (!written.includes(text)) {
      if (isOver || performance.now() > deadline) throw new Error(`"${text}" was not written:\n${written}`);
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  };
  const stop = async (): Promise<number | null> => {
    child.kill("SIGTERM");
    return ended;
  };
  return { process: child, output: () => written, waitFor, ended, stop };
}
