import { spawn, type ChildProcess, type SpawnOptions } from "node:child_process";
import { isRunning, signal, waitForEnd } from "@/lib/server/db/process-state";

const GRACE_MS = 5_000;
const isWindows = process.platform === "win32";

// Outlives this process when it is killed without a chance to clean up, stops what was started, and ends.
const GUARD = `
groups= database=
while read -r word pid; do
  case $word in
    group) groups="$groups $pid " ;;
    gone) case $groups in *" $pid "*) groups="\${groups%% $pid *} \${groups#* $pid }" ;; esac ;;
    database) database=$pid ;;
    over) exit 0 ;;
  esac
done
for pid in $groups; do kill -s TERM -- "-$pid" 2>/dev/null; done
[ -n "$groups" ] && sleep 1
for pid in $groups; do kill -s KILL -- "-$pid" 2>/dev/null; done
[ -n "$database" ] && kill -s INT "$database" 2>/dev/null
exit 0`;

/** What this process has started and must not leave behind. */
export type Children = {
  readonly start: (args: readonly string[], options: SpawnOptions) => ChildProcess;
  /** Tells the guard which database server to stop; the orderly stop is the caller's. */
  readonly guardDatabase: (pid: number) => void;
  readonly stop: (child: ChildProcess) => Promise<void>;
  /** Stops all that still run, then dismisses the guard. */
  readonly stopAll: () => Promise<void>;
  readonly dismissGuard: () => void;
};

/** Signals a child and whatever it started in turn. */
function signalGroup(pid: number, name: NodeJS.Signals): void {
  signal(isWindows ? pid : -pid, name);
}

export function keepChildren(): Children {
  const running = new Set<ChildProcess>();
  const guard = isWindows
    ? null
    : spawn("/bin/sh", ["-c", GUARD], { cwd: "/", detached: true, stdio: ["pipe", "ignore", "ignore"] });
  guard?.unref();
  // The guard may have been ended by hand; then there is nobody to tell.
  guard?.stdin?.on("error", () => {});
  const tell = (line: string): void => {
    guard?.stdin?.write(`${line}\n`);
  };

  const stop = async (child: ChildProcess): Promise<void> => {
    const { pid } = child;
    if (pid === undefined || !isRunning(pid)) return;
    signalGroup(pid, "SIGTERM");
    if (await waitForEnd(pid, GRACE_MS)) return;
    signalGroup(pid, "SIGKILL");
    await waitForEnd(pid, GRACE_MS);
  };

  return {
    start: (args, options) => {
      // In a group of its own, so that Ctrl-C reaches this process only, which stops the others in the right order.
      const child = spawn(process.execPath, args, { ...options, detached: !isWindows });
      running.add(child);
      if (child.pid !== undefined) tell(`group ${child.pid}`);
      child.once("exit", () => {
        running.delete(child);
        if (child.pid !== undefined) tell(`gone ${child.pid}`);
      });
      return child;
    },
    guardDatabase: (pid) => tell(`database ${pid}`),
    stop,
    stopAll: async () => {
      await Promise.all([...running].map(stop));
    },
    dismissGuard: () => {
      tell("over");
      guard?.stdin?.end();
    },
  };
}
