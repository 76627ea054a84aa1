import { openDeviceDatabase } from "./device/device-database";
import { LineDevice } from "./line-device";
import { keepProgram } from "./keep-program";

export type StartedLine =
  | { readonly kind: "ready"; readonly device: LineDevice }
  /** Another tab of this device has Line in hand. */
  | { readonly kind: "elsewhere" }
  | { readonly kind: "failed"; readonly why: string };

export type StartOptions = {
  /** Build of the program on this device; null in development. */
  readonly build: string | null;
  /** Take Line over from another tab. */
  readonly steal: boolean;
  readonly onChange: (started: StartedLine) => void;
};

const TAB_LOCK = "shellgate-line-tab";
const SEND_LOCK = "shellgate-line-send";
const LOCK_WAIT_MS = 1500;
const CALM_MS = 20_000;
const EAGER_MS = 4000;
const STORAGE_MS = 120_000;
/** The verdict is drawn and sent before anything else is asked of the processor and the network. */
const VERDICT_MS = 1500;

async function noteStorage(device: LineDevice): Promise<void> {
  const { storage } = navigator;
  if (!storage) return;
  const persisted = (await storage.persisted?.()) || (await storage.persist?.()) || false;
  const estimate = await storage.estimate?.();
  device.noteStorage({ persisted, usedBytes: estimate?.usage ?? null, quotaBytes: estimate?.quota ?? null });
}

/** Sends, reports and loads anew by the clock: often while something waits or the server is away. */
function beat(device: LineDevice, build: string | null, stopped: AbortSignal): void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let refreshedAt = 0;
  let storageAt = Date.now();
  const once = async (): Promise<void> => {
    clearTimeout(timer);
    if (stopped.aborted) return;
    await device.report(build);
    await device.send();
    if (Date.now() - storageAt > STORAGE_MS) {
      storageAt = Date.now();
      await noteStorage(device);
    }
    const idle = device.getState().session === null;
    if (device.getState().network === "there" && Date.now() - refreshedAt > (idle ? CALM_MS : 10 * CALM_MS)) {
      refreshedAt = Date.now();
      await device.refresh();
    }
    const { network, queue } = device.getState();
    const eager = network !== "there" || queue.some((entry) => entry.state === "waiting");
    if (!stopped.aborted) timer = setTimeout(() => void once(), eager ? EAGER_MS : CALM_MS);
  };
  const now = (): void => void once();
  const seen = (): void => {
    if (document.visibilityState === "visible") void once();
  };
  // Between two frames is the time to hear of an event, a revised plan or a held batch.
  let finished = device.getState().finished?.inspection.id;
  const leave = device.subscribe(() => {
    const id = device.getState().finished?.inspection.id;
    if (id !== undefined && id !== finished) setTimeout(now, VERDICT_MS);
    finished = id;
  });
  stopped.addEventListener("abort", leave);
  window.addEventListener("online", now, { signal: stopped });
  document.addEventListener("visibilitychange", seen, { signal: stopped });
  stopped.addEventListener("abort", () => clearTimeout(timer));
  void once();
}

async function open({ build, onChange }: StartOptions, stopped: AbortSignal): Promise<void> {
  const database = await openDeviceDatabase(() => onChange({ kind: "elsewhere" }));
  stopped.addEventListener("abort", () => database.close());
  if (stopped.aborted) {
    database.close();
    return;
  }
  const device = new LineDevice({
    database,
    exclusively: async (run) => {
      if (navigator.locks) await navigator.locks.request(SEND_LOCK, run);
      else await run();
    },
  });
  await device.open();
  if (stopped.aborted) return;
  onChange({ kind: "ready", device });
  beat(device, build, stopped);
  void noteStorage(device);
  void keepProgram(build);
}

/**
 * Starts Line in this tab: takes the device's lock, opens its database, resumes, and keeps sending.
 *
 * @returns stops it; what is kept stays kept
 */
export function startLine(options: StartOptions): () => void {
  const stop = new AbortController();
  const { onChange, steal } = options;
  const run = async (): Promise<void> => {
    await open(options, stop.signal);
    await new Promise<void>((done) => stop.signal.addEventListener("abort", () => done()));
  };
  const failed = (error: unknown): void => {
    if (stop.signal.aborted) return;
    stop.abort();
    const taken = error instanceof DOMException && (error.name === "AbortError" || error.name === "TimeoutError");
    onChange(
      taken ? { kind: "elsewhere" } : { kind: "failed", why: error instanceof Error ? error.message : "unknown" },
    );
  };
  if (!navigator.locks) {
    run().catch(failed);
    return () => stop.abort();
  }
  // A tab that was just reloaded lets go of its lock a moment later: worth a short wait.
  const how = steal ? { steal: true } : { signal: AbortSignal.any([stop.signal, AbortSignal.timeout(LOCK_WAIT_MS)]) };
  navigator.locks
    .request(TAB_LOCK, how, async () => {
      if (!stop.signal.aborted) await run();
    })
    .catch(failed);
  return () => stop.abort();
}
