/** The worker lies at the root so that its address can carry the build; it controls Line only. */
const SCOPE = "/line";

/** Address of the worker that keeps one build on the device. */
export function workerAddress(build: string): string {
  return `/line-worker.js?build=${encodeURIComponent(build)}`;
}

/** Keeps the program on the device, so that Line starts without the network. Without a build (development) nothing is kept. */
export async function keepProgram(build: string | null): Promise<void> {
  if (build === null || !("serviceWorker" in navigator)) return;
  const existing = await navigator.serviceWorker.getRegistration(SCOPE);
  // A page from the cache must not bring its own, older worker back.
  if (existing?.waiting || existing?.installing) return;
  if (existing?.active && navigator.serviceWorker.controller) return;
  await navigator.serviceWorker.register(workerAddress(build), { scope: SCOPE }).catch(() => undefined);
}

/** Loads the server's build beside the one in use; true when it lies ready on the device. */
export async function loadNewProgram(build: string): Promise<boolean> {
  const registration = await navigator.serviceWorker
    .register(workerAddress(build), { scope: SCOPE })
    .catch(() => undefined);
  const worker = registration?.installing ?? registration?.waiting;
  if (!worker) return false;
  if (worker.state === "installed") return true;
  return new Promise((done) => {
    worker.addEventListener("statechange", () => {
      if (worker.state === "installed" || worker.state === "activated") done(true);
      if (worker.state === "redundant") done(false);
    });
  });
}

/** Puts the program that lies ready into use. Every reading is on the disk, so that starting anew loses none. */
export async function startNewProgram(): Promise<void> {
  const registration = await navigator.serviceWorker.getRegistration(SCOPE);
  const { waiting } = registration ?? {};
  if (!waiting) {
    location.reload();
    return;
  }
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("use");
}
