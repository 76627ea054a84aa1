/** Thrown out of the start when it was told to stop meanwhile. */
export class Stopped extends Error {
  override name = "Stopped";
}

type Cleanup = () => Promise<void> | void;

/** What is to be undone at the end, last begun first, and whether the end has come. */
export class Lifecycle {
  #cleanups: Cleanup[] = [];
  #aborts: Cleanup[] = [];
  #isEnding = false;

  get isEnding(): boolean {
    return this.#isEnding;
  }

  /** Registers what stops something that was started. */
  onStop(cleanup: Cleanup): void {
    this.#cleanups.push(cleanup);
  }

  /** Registers what breaks off work that the start may be waiting for. */
  onEnding(abort: Cleanup): void {
    this.#aborts.push(abort);
  }

  /** Says that the end has come, and breaks off what would hold it up. */
  async markEnding(): Promise<void> {
    this.#isEnding = true;
    await Promise.allSettled(this.#aborts.map(async (abort) => abort()));
  }

  /** @throws Stopped once the end has come: called between the steps of the start */
  continueOrStop(): void {
    if (this.#isEnding) throw new Stopped();
  }

  /** Runs every cleanup; one that fails does not keep the others from running. */
  async stop(): Promise<readonly unknown[]> {
    this.#isEnding = true;
    const failures: unknown[] = [];
    for (let next = this.#cleanups.pop(); next !== undefined; next = this.#cleanups.pop()) {
      try {
        await next();
      } catch (error) {
        failures.push(error);
      }
    }
    return failures;
  }
}
