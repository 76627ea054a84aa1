import { isSetBack } from "./clock-skew";
import { clearSent, type DeviceDatabase, isCheck, isInspection, listOutbox } from "./device-database";
import { type Feedback, FIRST_SETTINGS, type LineState, serverTimeMs } from "./line-state";
import type { Fetch } from "./server-calls";

export type LineDeviceOptions = {
  readonly database: DeviceDatabase;
  readonly fetcher?: Fetch;
  readonly now?: () => number;
  /** Runs what only one tab may do at a time. */
  readonly exclusively?: (run: () => Promise<void>) => Promise<void>;
};

const AT_FIRST: LineState = {
  deviceId: "",
  deviceName: null,
  settings: FIRST_SETTINGS,
  stations: null,
  kit: null,
  kitAt: null,
  plans: {},
  session: null,
  keptSession: null,
  aside: [],
  finished: null,
  queue: [],
  sent: [],
  checks: [],
  sentChecks: [],
  gaugeUse: {},
  zero: null,
  acceptedGauges: {},
  ownFirstOff: null,
  directions: null,
  photos: [],
  inspector: null,
  pending: null,
  network: "unknown",
  revoked: null,
  stationClosed: null,
  awaySince: null,
  skew: null,
  notice: null,
  feedback: null,
  newBuild: null,
  storage: { persisted: null, usedBytes: null, quotaBytes: null },
};

/** What every act of the device works with: its state, its database, the server and the clock. */
export class DeviceCore {
  #state: LineState = AT_FIRST;
  readonly database: DeviceDatabase;
  readonly fetch: Fetch;
  readonly now: () => number;
  readonly exclusively: (run: () => Promise<void>) => Promise<void>;
  /** Called where something new waits to be sent. */
  queued: () => void = () => undefined;
  readonly #listeners = new Set<() => void>();
  #acts: Promise<unknown> = Promise.resolve();
  #failures = 0;

  constructor({ database, fetcher, now, exclusively }: LineDeviceOptions) {
    this.database = database;
    this.fetch = fetcher ?? ((url, init) => fetch(url, init));
    this.now = now ?? Date.now;
    this.exclusively = exclusively ?? ((run) => run());
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };

  readonly getState = (): LineState => this.#state;

  set(change: Partial<LineState>): void {
    this.#state = { ...this.#state, ...change };
    for (const listener of this.#listeners) listener();
  }

  /** Acts wait for one another, so that keys struck fast are taken in their order. */
  act(run: () => Promise<void>): Promise<void> {
    const done = this.#acts.then(run).catch((error: unknown) => this.#sayNotKept(error));
    this.#acts = done;
    return done;
  }

  /** An act of the keys. Keyed before a failure was seen, it is not taken: it would land in the place of what failed. */
  keyed(run: () => Promise<void>): Promise<void> {
    const failures = this.#failures;
    return this.act(async () => {
      if (failures === this.#failures) await run();
    });
  }

  async #sayNotKept(error: unknown): Promise<void> {
    this.#failures += 1;
    const why = error instanceof Error ? error.message : String(error);
    const isFull = error instanceof Error && error.name === "QuotaExceededError";
    const room = isFull ? await clearSent(this.database).catch(() => 0) : 0;
    const full =
      room > 0 ? "; what the server has already was cleared away" : ": free some, or save the queue to a file";
    const what = isFull ? `The storage of this device is full${full}` : `This device could not keep that (${why})`;
    this.set({ notice: { tone: "error", text: `${what}. What stands on the screen is kept; key it again.` } });
  }

  /** The server's clock, as far as this device knows it. */
  serverNow(): number {
    return serverTimeMs(this.#state, this.now());
  }

  /** How far this device's clock is ahead of the server's now, ms; null where it is not known. */
  skewNow(): number | null {
    const { skew } = this.#state;
    return skew === null || isSetBack(skew, this.now()) ? null : skew.skewMs;
  }

  noteNetwork(network: "there" | "away" | "signed out"): void {
    if (network === this.#state.network) return;
    const awaySince = network === "there" ? null : (this.#state.awaySince ?? this.now());
    this.set({ network, awaySince });
  }

  /** What was typed for something that is not on the screen any more is not taken for what is there now. */
  sayNotMeant(text: string, why: string): void {
    const notice = { tone: "caution", text: `${why}: “${text.trim()}” is not taken. Key what is asked now.` } as const;
    this.set({ notice, feedback: this.asking() });
  }

  /** A short answer to the ear and the hand; each counts, so that the same one twice is heard twice. */
  feedback(tone: Feedback["tone"]): Feedback {
    return { tone, count: (this.#state.feedback?.count ?? 0) + 1 };
  }

  asking(): Feedback {
    return this.feedback("question");
  }

  /** Reads what waits in the queue anew. */
  async readOutbox(): Promise<void> {
    const outbox = await listOutbox(this.database);
    this.set({ queue: outbox.filter(isInspection), checks: outbox.filter(isCheck) });
  }
}
