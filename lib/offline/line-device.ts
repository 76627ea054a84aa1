import { parseReadingName, type ReadingKind, type ReadingName } from "@/lib/core/metrology/reading-name";
import { formatDeviationUm, formatFixed } from "@/lib/format/number-text";
import { implausibleReading } from "@/lib/core/metrology/reading-plausibility";
import { judgeReading } from "@/lib/quality/judge-reading";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationGauge, StationKit, StationPlan } from "@/lib/schemas/station-package";
import { betterSkew, type ClockSkew, clockSkew } from "./clock-skew";
import {
  changeQueued,
  type DeviceDatabase,
  dropPhoto,
  clearSent,
  dropSession,
  finishSession,
  isCheck,
  isDifferent,
  isInspection,
  keepCheck,
  keepPhoto,
  keepSession,
  type KeptPhoto,
  listOutbox,
  listPhotos,
  listQueue,
  listSent,
  listSentChecks,
  listSessions,
  markSeen,
  readKept,
  type SentCheck,
  writeKept,
} from "./device-database";
import { entryKind, type KnownCodes } from "./entry-kind";
import { finishFrame, isBatchDone, withFrameDone } from "./finish-frame";
import { firstOffNow, firstOffPlan, type OwnFirstOff } from "./first-off";
import {
  isComplete,
  keyedValue,
  type KeyingEvent,
  type KeyingPlan,
  type KeyingSession,
  startKeying,
  stepKeying,
  sweepWith,
} from "./keying-session";
import {
  type DeviceSettings,
  type Feedback,
  findFrame,
  FIRST_SETTINGS,
  type LineState,
  planOfBatch,
  type StartRequest,
  type ZeroEntry,
} from "./line-state";
import { loadQueueFile, queueFileText, sentAgain } from "./queue-file";
import { sendWaiting } from "./send-queue";
import {
  type Fetch,
  fetchStationKit,
  fetchStations,
  giveUpLease,
  leaseFrame,
  sendPhoto,
  sendReport,
  withdrawInspection,
} from "./server-calls";
import { dueZeroChecks, GAUGE_KINDS, gaugeDoubtText, gaugesAtHand, withFrameMeasured } from "./station-gauges";
import {
  comparatorOf,
  type DeviceZeroCheck,
  type GaugeUse,
  judgeZeroCheck,
  keyedZero,
  UNUSED,
  gaugeAfterCheck,
  withChecks,
} from "./zero-check";

export type LineDeviceOptions = {
  readonly database: DeviceDatabase;
  readonly fetcher?: Fetch;
  readonly now?: () => number;
  /** Runs what only one tab may do at a time. */
  readonly exclusively?: (run: () => Promise<void>) => Promise<void>;
};

/** A scanned frame that this station can measure. */
type FrameToStart = {
  readonly serial: string;
  readonly batch: string;
  readonly plan: StationPlan;
  readonly inspections: number;
  /** The plan asks for it. */
  readonly planned: boolean;
};

export type PlanInHand = { readonly plan: StationPlan; readonly keying: KeyingPlan };
type NamesByPlan = Record<string, readonly ReadingName[]>;

/** Names of a plan's readings; a name that this version cannot read makes the plan unusable here. */
export function readingNamesOf(plan: StationPlan): readonly ReadingName[] | null {
  const names = plan.readingNames.map(parseReadingName);
  return names.every((name) => name.ok) ? names.flatMap((name) => (name.ok ? [name.value] : [])) : null;
}

/** What keying needs of a plan, with the gauges at hand. */
export function keyingPlan(state: Pick<LineState, "kit" | "settings" | "inspector">, plan: StationPlan): KeyingPlan {
  const gauges = gaugesAtHand(state.kit, state.settings);
  const bore = state.kit?.gauges.find((gauge) => gauge.key === gauges.bore);
  return {
    drawing: plan.drawing,
    names: readingNamesOf(plan) ?? [],
    ringMm: state.settings.boreEntry === "deviation" ? (bore?.ringMm ?? null) : null,
    smallUnit: state.settings.smallUnit,
    gauges,
    inspector: inspectorCodeOf(state),
  };
}

/** Code of who measures: of the badge scanned last, else of who is signed in. */
export function inspectorCodeOf({ inspector, kit }: Pick<LineState, "kit" | "inspector">): string | null {
  return inspector?.code ?? kit?.viewer?.code ?? null;
}

/** Every zero check that this device made and still has, oldest first. */
export function ownChecks({ checks, sentChecks }: Pick<LineState, "checks" | "sentChecks">): DeviceZeroCheck[] {
  return [...sentChecks, ...checks].map(({ check }) => check);
}

/**
 * The device at a station: what is chosen, measured, queued and sent. Every change of a reading is on its way to
 * the disk before the screen shows it, and counts as kept when it is there; acts run one after the other in the order in which they were asked for.
 */
export class LineDevice {
  #state: LineState;
  readonly #database: DeviceDatabase;
  readonly #fetch: Fetch;
  readonly #now: () => number;
  readonly #exclusively: (run: () => Promise<void>) => Promise<void>;
  readonly #listeners = new Set<() => void>();
  #acts: Promise<unknown> = Promise.resolve();
  #sending: Promise<void> | null = null;
  #lookAgain = false;
  #names: NamesByPlan = {};
  #inHand: {
    readonly of: Pick<LineState, "kit" | "settings" | "inspector">;
    readonly value: PlanInHand;
  } | null = null;
  #codes: { readonly kit: StationKit | null; readonly known: KnownCodes } | null = null;

  constructor({ database, fetcher, now, exclusively }: LineDeviceOptions) {
    this.#database = database;
    this.#fetch = fetcher ?? ((url, init) => fetch(url, init));
    this.#now = now ?? Date.now;
    this.#exclusively = exclusively ?? ((run) => run());
    this.#state = {
      deviceId: "",
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
      photos: [],
      inspector: null,
      pending: null,
      network: "unknown",
      revoked: null,
      awaySince: null,
      skew: null,
      notice: null,
      feedback: null,
      newBuild: null,
      storage: { persisted: null, usedBytes: null, quotaBytes: null },
    };
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };

  readonly getState = (): LineState => this.#state;

  #set(change: Partial<LineState>): void {
    this.#state = { ...this.#state, ...change };
    for (const listener of this.#listeners) listener();
  }

  /** Acts wait for one another, so that keys struck fast are taken in their order. */
  #act(run: () => Promise<void>): Promise<void> {
    const done = this.#acts.then(run).catch(async (error: unknown) => {
      const why = error instanceof Error ? error.message : String(error);
      const isFull = error instanceof Error && error.name === "QuotaExceededError";
      const room = isFull ? await clearSent(this.#database).catch(() => 0) : 0;
      const what = isFull
        ? `The storage of this device is full${room > 0 ? "; what the server has already was cleared away" : ": free some, or save the queue to a file"}`
        : `This device could not keep that (${why})`;
      this.#set({
        notice: { tone: "error", text: `${what}. What stands on the screen is kept; key it again.` },
      });
    });
    this.#acts = done;
    return done;
  }

  /** Reads what the device remembers. */
  open(): Promise<void> {
    return this.#act(async () => {
      const database = this.#database;
      let deviceId = await readKept<string>(database, "device");
      if (deviceId === null) {
        deviceId = `dev-${uuidV7(this.#now()).slice(-12)}`;
        await writeKept(database, "device", deviceId);
      }
      const [kept, sessions, outbox, sent, sentChecks, photos] = await Promise.all([
        this.#readAllKept(),
        listSessions(database),
        listOutbox(database),
        listSent(database),
        listSentChecks(database),
        listPhotos(database),
      ]);
      const { kit, current, settings, ...rest } = kept;
      const checks = outbox.filter(isCheck);
      const session = sessions.find((one) => one.id === current) ?? null;
      this.#set({
        ...rest,
        deviceId,
        settings: { ...FIRST_SETTINGS, ...settings },
        kit: kit === null ? null : withChecks(kit, ownChecks({ checks, sentChecks })),
        session,
        aside: sessions.filter((one) => one.id !== session?.id),
        queue: outbox.filter(isInspection),
        sent,
        checks,
        sentChecks,
        photos: photos.map(withoutPicture),
      });
      // A crash between the last reading and the verdict: finish what is complete.
      if (session !== null && isComplete(session)) await this.#finish(session);
    });
  }

  async #readAllKept() {
    const database = this.#database;
    const [settings, kit, kitAt, plans, current, inspector, skew, gaugeUse, accepted, ownFirstOff] = await Promise.all([
      readKept<DeviceSettings>(database, "settings"),
      readKept<StationKit>(database, "kit"),
      readKept<number>(database, "kitAt"),
      readKept<Record<string, StationPlan>>(database, "plans"),
      readKept<string>(database, "current"),
      readKept<LineState["inspector"]>(database, "inspector"),
      readKept<ClockSkew>(database, "skew"),
      readKept<Record<string, GaugeUse>>(database, "gaugeUse"),
      readKept<Record<string, string>>(database, "acceptedGauges"),
      readKept<OwnFirstOff>(database, "ownFirstOff"),
    ]);
    return {
      settings,
      kit,
      kitAt,
      current,
      inspector,
      skew,
      ownFirstOff,
      plans: plans ?? {},
      gaugeUse: gaugeUse ?? {},
      acceptedGauges: accepted ?? {},
    };
  }

  async changeSettings(change: Partial<DeviceSettings>): Promise<void> {
    await this.#act(async () => {
      const settings = { ...this.#state.settings, ...change };
      await writeKept(this.#database, "settings", settings);
      this.#set({ settings });
    });
  }

  async loadStations(): Promise<void> {
    const answer = await fetchStations(this.#fetch);
    if (answer.kind === "ok") this.#set({ stations: answer.value.stations });
    else if (answer.kind === "refused") this.#set({ notice: { tone: "error", text: answer.message } });
    else this.#noteNetwork(answer.kind);
  }

  async chooseStation(stationId: string | null): Promise<void> {
    const station = this.#state.stations?.find((one) => one.id === stationId);
    await this.changeSettings({ stationId, batch: null, ...(station ? { side: station.viewingSide } : {}) });
    if (stationId === null) this.#set({ kit: null });
    else {
      await this.refresh();
      // Registers the device at its station at once.
      await this.report(null);
    }
  }

  /** Loads plans, batches, frames and gauges of the station anew. */
  async refresh(): Promise<void> {
    const { stationId } = this.#state.settings;
    if (stationId === null) return;
    const answer = await fetchStationKit(this.#fetch, stationId);
    if (answer.kind === "refused") {
      this.#set({ notice: { tone: "error", text: answer.message } });
      return;
    }
    this.#noteNetwork(answer.kind === "ok" ? "there" : answer.kind);
    if (answer.kind !== "ok") return;
    await this.#act(async () => {
      if (this.#state.settings.stationId === stationId) await this.#takeKit(answer.value);
    });
  }

  /** Keeps what the server knows of the station, with what this device did since. */
  async #takeKit(given: StationKit): Promise<void> {
    const before = this.#state.kit?.viewer;
    const kit = this.#withOwnWork(given);
    const plans = { ...this.#state.plans };
    for (const plan of kit.plans) plans[plan.planRevisionId] = plan;
    // Somebody else has signed in: the badge scanned before is not theirs.
    const isOther = before !== undefined && before !== null && kit.viewer?.code !== before.code;
    const inspector = isOther ? null : this.#state.inspector;
    await Promise.all([
      writeKept(this.#database, "kit", kit),
      writeKept(this.#database, "kitAt", this.#now()),
      writeKept(this.#database, "plans", plans),
      ...(isOther ? [writeKept(this.#database, "inspector", null)] : []),
    ]);
    this.#set({ kit, kitAt: this.#now(), plans, inspector });
  }

  /** What waits here was measured, even if the server does not know it yet. */
  #withOwnWork(given: StationKit): StationKit {
    const kit = withChecks(given, ownChecks(this.#state));
    const waiting = new Map(this.#state.queue.map((entry) => [entry.inspection.serial, entry.deviceVerdict]));
    if (waiting.size === 0) return kit;
    return {
      ...kit,
      frames: kit.frames.map(({ batch, frames }) => ({
        batch,
        frames: frames.map((frame) => {
          const verdict = waiting.get(frame.serial);
          return verdict === undefined ? frame : { ...frame, verdict, inspections: frame.inspections + 1 };
        }),
      })),
    };
  }

  #noteNetwork(network: "there" | "away" | "signed out"): void {
    if (network === this.#state.network) return;
    this.#set({
      network,
      awaySince: network === "there" ? null : (this.#state.awaySince ?? this.#now()),
    });
  }

  #known(): KnownCodes {
    const { kit } = this.#state;
    if (this.#codes?.kit === kit) return this.#codes.known;
    const known: KnownCodes = {
      serials: new Map((kit?.frames ?? []).flatMap(({ batch, frames }) => frames.map(({ serial }) => [serial, batch]))),
      batches: new Set((kit?.batches ?? []).map(({ key }) => key)),
      badges: new Map((kit?.inspectors ?? []).map(({ badgeCode, name }) => [badgeCode, name])),
    };
    this.#codes = { kit, known };
    return known;
  }

  /** The plan of the frame in hand, as it is keyed: the same object until something of it changes. */
  planInHand(): PlanInHand | null {
    const { session, plans, kit, settings, inspector } = this.#state;
    const plan = session === null ? undefined : plans[session.planRevisionId];
    if (!plan) return null;
    const known = this.#inHand;
    const isSame = known?.of.kit === kit && known.of.settings === settings && known.of.inspector === inspector;
    if (isSame && known.value.plan === plan) return known.value;
    const names = (this.#names[plan.planRevisionId] ??= readingNamesOf(plan) ?? []);
    const value = { plan, keying: { ...keyingPlan(this.#state, plan), names } };
    this.#inHand = { of: { kit, settings, inspector }, value };
    return value;
  }

  /** Whatever came through the keys before Enter or Tab: a reading, a serial, a batch or a badge. */
  enter(text: string): Promise<void> {
    return this.#act(async () => {
      const { session, zero } = this.#state;
      if (zero !== null && zero.failed === null && !this.#known().badges.has(text.trim())) return this.#enterZero(text);
      const inHand = this.planInHand();
      const index = session?.asked ?? null;
      const name = index === null ? undefined : inHand?.keying.names[index];
      const could =
        session === null || inHand === null || index === null || name === undefined
          ? null
          : (value: number) => {
              const size = keyedValue(inHand.keying, name, value);
              const sweep = sweepWith(inHand.keying.names, session.readings, index, size);
              return implausibleReading(inHand.keying.drawing, name, size, sweep) === null;
            };
      const entry = entryKind(text, this.#known(), could);
      switch (entry.kind) {
        case "reading":
          return this.#keying({ type: "enter", text: entry.text, offsetMs: this.#offset() });
        case "badge":
          await writeKept(this.#database, "inspector", { code: entry.code, name: entry.name });
          this.#set({
            inspector: { code: entry.code, name: entry.name },
            notice: { tone: "done", text: `${entry.name} measures now.` },
          });
          return;
        case "batch":
          return this.#chooseBatch(entry.batch);
        case "serial":
          return this.#start({ serial: entry.serial, reason: null, agreed: [] });
      }
    });
  }

  #offset(): number {
    return Math.max(0, this.#now() - (this.#state.session?.startedAt ?? this.#now()));
  }

  async #chooseBatch(batch: string | null): Promise<void> {
    const settings = { ...this.#state.settings, batch };
    await writeKept(this.#database, "settings", settings);
    this.#set({ settings, notice: null });
  }

  chooseBatch(batch: string | null): Promise<void> {
    return this.#act(() => this.#chooseBatch(batch));
  }

  /** An act of keying other than a number: questions, corrections, words, jumps. */
  key(
    event: KeyingEvent | { readonly type: "yes" | "as keyed" } | { readonly type: "cannot"; readonly reason: string },
  ) {
    const timed = "offsetMs" in event ? event : ({ ...event, offsetMs: this.#offset() } as KeyingEvent);
    return this.#act(() => this.#keying(timed));
  }

  async #keying(event: KeyingEvent): Promise<void> {
    const { session } = this.#state;
    const inHand = this.planInHand();
    if (session === null || inHand === null) return;
    const next = stepKeying(inHand.keying, session, event);
    if (next === session) return;
    // The write begins before the answer is drawn; the reading is said to be kept only when it is on the disk.
    const written = keepSession(this.#database, next);
    this.#set({
      session: next,
      keptSession: session,
      notice: null,
      feedback: this.#feedbackOn(session, next, inHand.keying),
    });
    try {
      await written;
    } catch (error) {
      this.#set({ session });
      throw error;
    } finally {
      this.#set({ keptSession: null });
    }
    if (isComplete(next) && event.type !== "jump" && event.type !== "remark") await this.#finish(next);
  }

  #feedbackOn(before: KeyingSession, after: KeyingSession, plan: KeyingPlan): Feedback | null {
    const count = (this.#state.feedback?.count ?? 0) + 1;
    if (after.question !== null || after.correction !== null || after.refusal !== null)
      return { tone: "question", count };
    const index = after.last;
    const reading = index === null ? null : (after.readings[index] ?? null);
    const name = index === null ? undefined : plan.names[index];
    if (index === null || reading === null || name === undefined || reading === before.readings[index])
      return this.#state.feedback;
    if (reading.value === null) return { tone: "question", count };
    const { verdict } = judgeReading(plan.drawing, name, reading.value);
    return { tone: verdict === "does not conform" ? "out" : verdict === "not proven" ? "question" : "good", count };
  }

  async #finish(session: KeyingSession): Promise<void> {
    const { plans, deviceId, skew, kit, gaugeUse } = this.#state;
    const plan = plans[session.planRevisionId];
    if (!plan) return;
    const keying = keyingPlan(this.#state, plan);
    const now = this.#now();
    const finish = { finishedAt: now, clockSkewMs: skew?.skewMs ?? null, deviceId, inspectorCode: keying.inspector };
    const { entry, shown, holds } = finishFrame(session, { kit, plan, keying, checks: ownChecks(this.#state) }, finish);
    await finishSession(this.#database, entry);
    await writeKept(this.#database, "current", null);
    const verdict = entry.deviceVerdict;
    const measured = kit === null ? null : withFrameDone(kit, session.serial, verdict);
    const endsBatch = !isBatchDone(kit, session.batch) && isBatchDone(measured, session.batch);
    const gauges = session.readings.map((reading) => reading?.gauge ?? null);
    const use = withFrameMeasured(gaugeUse, { serial: session.serial, gauges, endsBatch });
    await writeKept(this.#database, "gaugeUse", use);
    if (measured !== null) await writeKept(this.#database, "kit", measured);
    if (session.firstOff === true) await this.#noteFirstOff(session, verdict, now);
    const count = (this.#state.feedback?.count ?? 0) + 1;
    this.#set({
      session: null,
      kit: measured,
      gaugeUse: use,
      queue: await listQueue(this.#database),
      finished: shown,
      feedback: { tone: verdict === "conforms" && !holds ? "good" : holds ? "out" : "question", count },
    });
    void this.send();
  }

  /** The frame stands for the line, as far as this device knows, until the server says more. */
  async #noteFirstOff(
    { id, serial, batch }: KeyingSession,
    verdict: OwnFirstOff["verdict"],
    now: number,
  ): Promise<void> {
    const { kit, ownFirstOff } = this.#state;
    const asked = firstOffNow(kit, ownFirstOff, now);
    if (asked.kind !== "asked") return;
    const measuredAt = new Date(now).toISOString();
    const own = { since: asked.since, inspectionId: id, serial, batch, verdict, measuredAt };
    await writeKept(this.#database, "ownFirstOff", own);
    this.#set({ ownFirstOff: own });
  }

  async #start(request: StartRequest): Promise<void> {
    const { serial, agreed } = request;
    const { session } = this.#state;
    if (session?.serial === serial) {
      this.#set({ notice: { tone: "caution", text: `Frame ${serial} is the one in hand. Key its reading.` } });
      return;
    }
    const waitingHere = this.#state.aside.find((one) => one.serial === serial);
    if (session !== null && !agreed.includes("unfinished")) {
      const batch = findFrame(this.#state.kit, serial)?.batch ?? "";
      this.#set({ pending: { ...request, batch, why: "unfinished" }, feedback: this.#asking() });
      return;
    }
    if (waitingHere) return this.#resume(waitingHere);
    const found = await this.#findToStart(serial);
    if (found === null || this.#asksBefore(request, found)) return;
    const { batch, plan, planned } = found;
    const firstOff = this.firstOff().kind === "asked";
    const asked = firstOff ? firstOffPlan(this.#state.kit, plan) : plan;
    const started = startKeying(
      {
        id: uuidV7(this.#now()),
        serial,
        batch,
        stationId: this.#state.settings.stationId ?? "",
        planRevisionId: asked.planRevisionId,
        startedAt: this.#now(),
        reason: request.reason,
        ...(planned ? {} : { outsidePlan: true as const }),
        ...(firstOff ? { firstOff: true as const } : {}),
        ...(request.beforeRelease === undefined ? {} : { beforeRelease: request.beforeRelease }),
      },
      { names: readingNamesOf(asked) ?? [] },
    );
    await this.#take(started);
    if (this.#state.settings.batch !== batch) await this.#chooseBatch(batch);
  }

  /** Leases the frame, and finds its batch and plan, on the device or with the server; null where it cannot be measured here. */
  async #findToStart(serial: string): Promise<FrameToStart | null> {
    const { settings, deviceId } = this.#state;
    let known = findFrame(this.#state.kit, serial);
    const lease = await leaseFrame(this.#fetch, { serial, deviceId });
    if (lease.kind === "refused") {
      this.#noteNetwork("there");
      this.#set({ pending: null, notice: { tone: "error", text: lease.message }, feedback: this.#asking() });
      return null;
    }
    this.#noteNetwork(lease.kind === "ok" ? "there" : lease.kind);
    if (known === null && lease.kind === "ok") {
      // Not among the frames on this device: a newer batch, or one of another time.
      const answer = settings.stationId === null ? null : await fetchStationKit(this.#fetch, settings.stationId);
      if (answer?.kind === "ok") await this.#takeKit(answer.value);
      known = findFrame(this.#state.kit, serial);
    }
    const batch = known?.batch ?? (lease.kind === "ok" ? lease.value.batch : null);
    const plan = batch === null ? null : planOfBatch(this.#state.kit, batch);
    if (batch !== null && plan !== null && readingNamesOf(plan) !== null) {
      const leased = lease.kind === "ok" ? lease.value.inspections : 0;
      const inspections = Math.max(known?.frame.inspections ?? 0, leased);
      return { serial, batch, plan, inspections, planned: known?.frame.planned !== false };
    }
    const text =
      batch === null
        ? `No frame ${serial} is known on this device, and the server does not answer. Scan it again, or wait for the network.`
        : `Frame ${serial} is of batch ${batch}, for which this station has no measuring plan. Measure it at its own line.`;
    this.#set({ pending: null, feedback: this.#asking(), notice: { tone: "error", text } });
    if (lease.kind === "ok") void giveUpLease(this.#fetch, { serial, deviceId });
    return null;
  }

  /** Asks what has to be said before the frame is started: one question at a time. True where something is asked. */
  #asksBefore(request: StartRequest, { batch, plan, inspections }: FrameToStart): boolean {
    const { settings, kit, gaugeUse } = this.#state;
    const { agreed, reason } = request;
    const ask = (pending: Omit<NonNullable<LineState["pending"]>, keyof StartRequest | "batch">): true => {
      this.#set({ pending: { ...request, ...pending, batch }, feedback: this.#asking() });
      return true;
    };
    if (settings.batch !== null && settings.batch !== batch && !agreed.includes("other batch"))
      return ask({ why: "other batch" });
    if (inspections > 0 && reason === null) return ask({ why: "measured before" });
    const line = this.firstOff();
    if (line.kind === "waits" && inspections === 0 && !agreed.includes("first-off")) return ask({ why: "first-off" });
    const kinds = new Set<string>((readingNamesOf(plan) ?? []).map(({ kind }) => kind));
    const due = dueZeroChecks(kit, settings, gaugeUse, plan, this.#now(), kinds).find(
      ({ gauge }) => !agreed.includes(`zero check ${gauge}`),
    );
    if (due !== undefined) {
      this.#askZero(due.gauge, due.occasion, due.why, request);
      return true;
    }
    const doubtful = this.doubtfulGauges(kinds).find(({ key }) => !agreed.includes(`gauge ${key}`));
    return doubtful === undefined ? false : ask({ why: "gauge", gauge: doubtful });
  }

  /** Gauges at hand whose readings prove nothing, but for those that somebody wants to use all the same. */
  doubtfulGauges(kinds: ReadonlySet<string>): { readonly key: string; readonly doubt: string }[] {
    const { kit, settings, acceptedGauges } = this.#state;
    const atHand = gaugesAtHand(kit, settings);
    return (kit?.gauges ?? []).flatMap((gauge) => {
      const { key, kind } = gauge;
      if (!kinds.has(kind) || atHand[kind] !== key) return [];
      const doubt = gaugeDoubtText(gauge, this.#now(), settings.decimal);
      return doubt === null || acceptedGauges[key] === doubt ? [] : [{ key, doubt }];
    });
  }

  /** How the line stands with its first-off, as far as this device knows. */
  firstOff() {
    const { kit, ownFirstOff } = this.#state;
    return firstOffNow(kit, ownFirstOff, this.#now());
  }

  #asking(): Feedback {
    return { tone: "question", count: (this.#state.feedback?.count ?? 0) + 1 };
  }

  /** Takes a frame in hand; the one before stays on the device as it is. */
  async #take(session: KeyingSession): Promise<void> {
    await keepSession(this.#database, session);
    await writeKept(this.#database, "current", session.id);
    await this.#noteSeen();
    const before = this.#state.session;
    this.#set({
      session,
      aside: [...this.#state.aside, ...(before === null ? [] : [before])].filter((one) => one.id !== session.id),
      finished: null,
      pending: null,
      notice: null,
    });
  }

  #resume(session: KeyingSession): Promise<void> {
    return this.#take(session);
  }

  /** Goes on with a frame that was put aside. */
  resume(id: string): Promise<void> {
    return this.#act(async () => {
      const session = this.#state.aside.find((one) => one.id === id);
      if (session) await this.#resume(session);
    });
  }

  /** Answers what stands before starting a frame; the reason says why it is measured again, or before a release. */
  agree(reason: string | null = null): Promise<void> {
    return this.#act(async () => {
      const { pending, acceptedGauges } = this.#state;
      if (pending === null) return;
      const { serial, why, gauge, beforeRelease } = pending;
      const said = reason?.trim().slice(0, 500) || null;
      this.#set({ pending: null });
      if (gauge !== undefined) {
        const accepted = { ...acceptedGauges, [gauge.key]: gauge.doubt };
        await writeKept(this.#database, "acceptedGauges", accepted);
        this.#set({ acceptedGauges: accepted });
      }
      const early = why === "first-off" && said !== null ? said : beforeRelease;
      await this.#start({
        serial,
        reason: why === "measured before" ? (said ?? pending.reason) : pending.reason,
        agreed: [...pending.agreed, gauge === undefined ? why : `gauge ${gauge.key}`],
        ...(early === undefined ? {} : { beforeRelease: early }),
      });
    });
  }

  /** Looks again whether the line was released, and goes on with the scan where it was. */
  async lookAgain(): Promise<void> {
    const { pending } = this.#state;
    if (pending === null) return;
    await this.refresh();
    const { network } = this.#state;
    await this.#act(async () => {
      if (this.#state.pending !== pending) return;
      if (this.firstOff().kind === "waits") {
        const text =
          network === "there"
            ? "The server says that the line is not released yet."
            : "The server does not answer: whether the line was released is not known here.";
        this.#set({ notice: { tone: "caution", text } });
        return;
      }
      this.#set({ pending: null, notice: null });
      await this.#start(pending);
    });
  }

  #askZero(gauge: string, occasion: ZeroEntry["occasion"], why: string | null, then: StartRequest | null): void {
    const zero = { gauge, occasion, why, then, question: null, refusal: null, failed: null };
    this.#set({ zero, pending: null, notice: null, feedback: this.#asking() });
  }

  /** Asks for the zero check of a gauge: because it is due, was knocked, or somebody wants it. */
  checkZero(key: string, knocked = false): Promise<void> {
    return this.#act(async () => {
      const { kit, settings, gaugeUse } = this.#state;
      if (comparatorOf(kit?.gauges.find((one) => one.key === key)) === null) return;
      if (knocked) {
        const use = { ...gaugeUse, [key]: { ...(gaugeUse[key] ?? UNUSED), knocked: true } };
        await writeKept(this.#database, "gaugeUse", use);
        this.#set({ gaugeUse: use });
      }
      const plan = settings.batch === null ? null : planOfBatch(kit, settings.batch);
      const need = dueZeroChecks(kit, settings, this.#state.gaugeUse, plan, this.#now()).find(
        (one) => one.gauge === key,
      );
      this.#askZero(key, need?.occasion ?? "other", need?.why ?? null, null);
    });
  }

  #comparatorInHand(): { readonly zero: ZeroEntry; readonly gauge: StationGauge } | null {
    const { zero, kit } = this.#state;
    const gauge = kit?.gauges.find((one) => one.key === zero?.gauge);
    return zero === null || gauge === undefined ? null : { zero, gauge };
  }

  async #enterZero(text: string): Promise<void> {
    const inHand = this.#comparatorInHand();
    const comparator = comparatorOf(inHand?.gauge);
    if (inHand === null || comparator === null) return;
    const { zero, gauge } = inHand;
    const { boreEntry, smallUnit, decimal } = this.#state.settings;
    if (text.trim() === "") {
      if (zero.question !== null) await this.#keepZero(zero.question);
      return;
    }
    const entry = gauge.kind === "bore" && boreEntry === "deviation" ? smallUnit : "size";
    const keyed = keyedZero(text, comparator, entry, decimal);
    if (keyed.kind === "reading") return this.#keepZero(keyed.readingMm);
    const asked =
      keyed.kind === "question"
        ? { question: keyed.readingMm, refusal: null }
        : { question: null, refusal: keyed.message };
    this.#set({ zero: { ...zero, ...asked }, feedback: this.#asking() });
  }

  /** Judges the check, keeps it in the queue and acts on it: a failed one takes the gauge off the station's offer. */
  async #keepZero(readingMm: number): Promise<void> {
    const inHand = this.#comparatorInHand();
    const comparator = comparatorOf(inHand?.gauge);
    if (inHand === null || comparator === null) return;
    const { zero, gauge } = inHand;
    const { gaugeUse, deviceId, skew, session } = this.#state;
    const now = this.#now();
    const of = gaugeUse[gauge.key] ?? UNUSED;
    // The frame in hand counts, too, once the gauge took a reading of it.
    const isInHand = session?.readings.some((reading) => reading?.gauge === gauge.key) ?? false;
    const serials = isInHand && session ? [...of.serials, session.serial] : of.serials;
    const check = judgeZeroCheck(
      comparator,
      readingMm,
      gauge,
      { ...of, serials },
      {
        id: uuidV7(now),
        occasion: zero.occasion,
        deviceAt: now,
        skewMs: skew?.skewMs ?? null,
        deviceId,
        inspectorCode: inspectorCodeOf(this.#state),
      },
    );
    const use = { ...gaugeUse, [gauge.key]: gaugeAfterCheck(of, check.passed) };
    await keepCheck(this.#database, { check, queuedAt: now, state: "waiting", refusal: null }, use);
    const { kit } = this.#state;
    this.#set({
      gaugeUse: use,
      kit: kit === null ? null : withChecks(kit, [check]),
      checks: (await listOutbox(this.#database)).filter(isCheck),
      zero: check.passed ? null : { ...zero, question: null, refusal: null, failed: check },
      feedback: { tone: check.passed ? "good" : "out", count: (this.#state.feedback?.count ?? 0) + 1 },
      ...(check.passed
        ? { notice: { tone: "done" as const, text: passedText(check, this.#state.settings.decimal) } }
        : {}),
    });
    void this.send();
    if (check.passed && zero.then !== null) await this.#start(zero.then);
  }

  /** A number at the zero check, its missing decimal sign confirmed by an empty Enter. */
  enterZero(text: string): Promise<void> {
    return this.enter(text);
  }

  /** Keys the check of the failed gauge again: cleaned, set anew, or in its own ring this time. */
  checkZeroAgain(): Promise<void> {
    return this.#act(async () => {
      const { zero } = this.#state;
      if (zero !== null) this.#set({ zero: { ...zero, occasion: "other", why: null, failed: null } });
    });
  }

  /** Leaves the zero check; a scan that waits behind it goes on without. */
  leaveZero(): Promise<void> {
    return this.#act(async () => {
      const { zero } = this.#state;
      this.#set({ zero: null });
      if (zero === null) return;
      // What the failed check says of the gauge was read: it is not asked about again.
      if (zero.failed !== null) await this.#acceptDoubts();
      if (zero.then === null && zero.failed !== null) this.#askInsteadOf(zero.gauge);
      if (zero.then === null) return;
      const { then, gauge } = zero;
      await this.#start({ ...then, agreed: [...then.agreed, `zero check ${gauge}`] });
    });
  }

  /** The gauge that takes the place of a failed one has to be in order itself: where its check is due, it comes now. */
  #askInsteadOf(failed: string): void {
    const { kit, settings } = this.#state;
    const kind = kit?.gauges.find(({ key }) => key === failed)?.kind;
    const next = kind === undefined ? undefined : gaugesAtHand(kit, settings)[kind];
    if (next !== undefined && next !== failed) this.#askIfDue(next);
  }

  #askIfDue(key: string): void {
    const { kit, settings, gaugeUse } = this.#state;
    const plan = settings.batch === null ? null : planOfBatch(kit, settings.batch);
    const due = dueZeroChecks(kit, settings, gaugeUse, plan, this.#now()).find(({ gauge }) => gauge === key);
    if (due !== undefined) this.#askZero(key, due.occasion, due.why, null);
  }

  async #acceptDoubts(): Promise<void> {
    const doubtful = this.doubtfulGauges(new Set(GAUGE_KINDS)).map(({ key, doubt }) => [key, doubt]);
    if (doubtful.length === 0) return;
    const accepted = { ...this.#state.acceptedGauges, ...(Object.fromEntries(doubtful) as Record<string, string>) };
    await writeKept(this.#database, "acceptedGauges", accepted);
    this.#set({ acceptedGauges: accepted });
  }

  /** Leaves the zero check and the scan that waits behind it. */
  dropZero(): Promise<void> {
    return this.#act(async () => {
      const { zero, deviceId } = this.#state;
      this.#set({ zero: null });
      if (zero !== null && zero.then !== null) await giveUpLease(this.#fetch, { serial: zero.then.serial, deviceId });
    });
  }

  /** Takes another gauge for its kind of reading from here on; what was measured keeps its own. */
  chooseGauge(key: string): Promise<void> {
    return this.#act(async () => {
      const { settings, kit, acceptedGauges } = this.#state;
      const gauge = kit?.gauges.find((one) => one.key === key);
      if (!gauge) return;
      const next = { ...settings, gauges: { ...settings.gauges, [gauge.kind]: key } };
      const doubt = gaugeDoubtText(gauge, this.#now(), settings.decimal);
      const accepted = doubt === null ? acceptedGauges : { ...acceptedGauges, [key]: doubt };
      await writeKept(this.#database, "settings", next);
      await writeKept(this.#database, "acceptedGauges", accepted);
      this.#set({ settings: next, acceptedGauges: accepted });
      this.#askIfDue(key);
    });
  }

  disagree(): Promise<void> {
    return this.#act(async () => {
      const { pending, session } = this.#state;
      if (pending === null) return;
      this.#set({ pending: null });
      if (session?.serial !== pending.serial && pending.why !== "unfinished")
        await giveUpLease(this.#fetch, { serial: pending.serial, deviceId: this.#state.deviceId });
    });
  }

  /** Leaves the frame in hand half way; it waits on this device. */
  putAside(): Promise<void> {
    return this.#act(async () => {
      const { session } = this.#state;
      if (session === null) return;
      await writeKept(this.#database, "current", null);
      this.#set({ session: null, aside: [...this.#state.aside, session], notice: null });
    });
  }

  /** Gives a started frame up; what was keyed goes to the device's own record and the frame is free again. */
  giveUp(id: string, reason: string): Promise<void> {
    return this.#act(async () => {
      const { session, aside, deviceId } = this.#state;
      const given = session?.id === id ? session : aside.find((one) => one.id === id);
      if (!given) return;
      const earlier = (await readKept<unknown[]>(this.#database, "givenUp")) ?? [];
      await writeKept(this.#database, "givenUp", [...earlier, { ...given, givenUpAt: this.#now(), why: reason }]);
      await dropSession(this.#database, id);
      if (session?.id === id) await writeKept(this.#database, "current", null);
      this.#set({
        session: session?.id === id ? null : session,
        aside: aside.filter((one) => one.id !== id),
        notice: { tone: "done", text: `Frame ${given.serial} is given up. What was keyed stays on this device.` },
      });
      void giveUpLease(this.#fetch, { serial: given.serial, deviceId });
    });
  }

  /** Leaves the verdict. */
  closeFinished(): Promise<void> {
    return this.#act(async () => {
      await this.#noteSeen();
      this.#set({ finished: null });
    });
  }

  /** Whoever leaves the verdict with the server's answer on it has read the answer. */
  async #noteSeen(): Promise<void> {
    const id = this.#state.finished?.inspection.id;
    if (id !== undefined && this.#state.sent.some((one) => one.id === id)) await this.#see([id]);
  }

  async #see(ids: readonly string[]): Promise<void> {
    await markSeen(this.#database, ids);
    this.#set({ sent: await listSent(this.#database) });
  }

  /** Somebody has read what the server said of some inspections. */
  markRead(ids: readonly string[]): Promise<void> {
    return this.#act(() => this.#see(ids));
  }

  /** Keeps a photo with the frame in hand, or with the one whose verdict is shown; it is sent after its inspection. */
  addPhoto(jpeg: string): Promise<void> {
    return this.#act(async () => {
      const { session, finished } = this.#state;
      const of = session ?? finished?.inspection ?? null;
      if (of === null) return;
      const photo = {
        id: uuidV7(this.#now()),
        inspectionId: of.id,
        serial: of.serial,
        jpeg,
        takenAt: this.#now(),
        refusal: null,
      };
      await keepPhoto(this.#database, photo);
      this.#set({
        photos: [...this.#state.photos, withoutPicture(photo)],
        notice: { tone: "done", text: `The photo is kept with frame ${of.serial}.` },
      });
      void this.send();
    });
  }

  /** Photos go one by one, after their inspections. */
  async #sendPhotos(): Promise<void> {
    const { session, aside, queue } = this.#state;
    const notYet = new Set([
      ...queue.map(({ inspection }) => inspection.id),
      ...[...aside, ...(session === null ? [] : [session])].map(({ id }) => id),
    ]);
    for (const photo of await listPhotos(this.#database)) {
      if (notYet.has(photo.inspectionId)) continue;
      const { id, inspectionId, jpeg } = photo;
      const answer = await sendPhoto(this.#fetch, { id, inspectionId, jpeg });
      if (answer.kind === "away" || answer.kind === "signed out") {
        this.#noteNetwork(answer.kind);
        return;
      }
      if (answer.kind === "ok") await dropPhoto(this.#database, id);
      else if (answer.message !== photo.refusal) await keepPhoto(this.#database, { ...photo, refusal: answer.message });
      this.#set({ photos: (await listPhotos(this.#database)).map(withoutPicture) });
    }
  }

  /** Withdraws the inspection whose verdict is shown; what the server says against it is shown. */
  async withdrawFinished(reason: string): Promise<void> {
    const { finished } = this.#state;
    if (finished === null) return;
    const answer = await withdrawInspection(this.#fetch, { id: finished.inspection.id, reason });
    if (answer.kind === "ok" || answer.kind === "refused") this.#noteNetwork("there");
    else this.#noteNetwork(answer.kind);
    if (answer.kind !== "ok") {
      const text = {
        refused: answer.kind === "refused" ? answer.message : "",
        away: "The server does not answer. Nothing was withdrawn; try again when the network is back.",
        "signed out": "You are signed out. Nothing was withdrawn; sign in and try again.",
      }[answer.kind];
      this.#set({ notice: { tone: "error", text }, feedback: this.#asking() });
      return;
    }
    const shown = this.#state.finished;
    this.#set({
      notice: null,
      ...(shown?.inspection.id === finished.inspection.id ? { finished: { ...shown, withdrawn: reason } } : {}),
    });
    await this.refresh();
  }

  closeNotice(): void {
    this.#set({ notice: null });
  }

  /** A person decides about an inspection or a zero check that the server refused. */
  decide(order: number, decision: { readonly kind: "aside" } | { readonly kind: "again"; readonly reason: string }) {
    return this.#act(async () => {
      const found = [...this.#state.queue, ...this.#state.checks].find((entry) => entry.order === order);
      if (!found) return;
      const { order: _order, ...entry } = found;
      const decided =
        decision.kind === "aside"
          ? { ...entry, state: "aside" as const }
          : sentAgain(entry, decision.reason, { now: this.#now(), deviceId: this.#state.deviceId });
      await changeQueued(this.#database, order, decided);
      await this.#readOutbox();
      if (decision.kind === "again") void this.send();
    });
  }

  async #readOutbox(): Promise<void> {
    const outbox = await listOutbox(this.#database);
    this.#set({ queue: outbox.filter(isInspection), checks: outbox.filter(isCheck) });
  }

  /** Everything that is only on this device, as text for a file. */
  saveText(): Promise<string> {
    return queueFileText(this.#database, this.#state.deviceId, this.#now());
  }

  /** Takes the queue of a file in, whatever is here already by its key left out. */
  loadText(text: string): Promise<void> {
    return this.#act(async () => {
      const loaded = await loadQueueFile(this.#database, text, this.#state.gaugeUse);
      if (loaded === null) {
        this.#set({ notice: { tone: "error", text: "This is not a queue saved by Line. Nothing was loaded." } });
        return;
      }
      const [sessions, photos] = await Promise.all([listSessions(this.#database), listPhotos(this.#database)]);
      const { session } = this.#state;
      await this.#readOutbox();
      this.#set({
        photos: photos.map(withoutPicture),
        aside: sessions.filter((one) => one.id !== session?.id),
        notice: {
          tone: "done",
          text: `${loaded.taken} of ${loaded.inFile} in the file were loaded${loaded.taken < loaded.inFile ? "; the others were here already" : ""}.`,
        },
      });
      void this.send();
    });
  }

  /** Sends what waits, oldest first, until the queue is empty or the server is away. Asked again meanwhile, it looks again. */
  send(): Promise<void> {
    this.#lookAgain = true;
    this.#sending ??= this.#sendUntilDone().finally(() => {
      this.#sending = null;
      // Asked in the very moment in which it ended.
      if (this.#lookAgain) void this.send();
    });
    return this.#sending;
  }

  async #sendUntilDone(): Promise<void> {
    while (this.#lookAgain) {
      this.#lookAgain = false;
      // What a device out of use keeps waits: none of it is refused one by one.
      if (this.#state.settings.stationId === null || this.#state.revoked !== null) return;
      await this.#exclusively(async () => {
        await this.#sendAll();
        if (this.#state.photos.length > 0) await this.#sendPhotos();
      });
    }
  }

  async #sendAll(): Promise<void> {
    for (let more = true; more;) {
      const result = await sendWaiting(this.#database, this.#fetch, this.#now);
      if (result.kind === "away" || result.kind === "signed out") this.#noteNetwork(result.kind);
      else if (result.kind === "stuck") this.#set({ notice: { tone: "error", text: result.message } });
      else if (result.kind === "checked") {
        this.#noteNetwork("there");
        await this.#readOutbox();
        const sentChecks: readonly SentCheck[] = await listSentChecks(this.#database);
        this.#set({ sentChecks, ...(result.refused > 0 ? { feedback: this.#asking() } : {}) });
      } else if (result.sent.length > 0 || result.refused > 0) {
        this.#noteNetwork("there");
        const [queue, sent] = await Promise.all([listQueue(this.#database), listSent(this.#database)]);
        this.#set({ queue, sent, ...(result.refused > 0 ? { feedback: this.#asking() } : {}) });
      }
      more = (result.kind === "sent" || result.kind === "checked") && result.left > 0;
    }
  }

  /** Asks the server for its time and build, and tells it of the queue. */
  async report(build: string | null): Promise<void> {
    const { settings, deviceId, queue, checks } = this.#state;
    if (settings.stationId === null) return;
    const entries = [...queue, ...checks].sort((a, b) => a.order - b.order);
    const waiting = entries.filter((entry) => entry.state === "waiting");
    const sentAt = this.#now();
    const answer = await sendReport(this.#fetch, {
      deviceId,
      stationId: settings.stationId,
      waiting: waiting.length,
      refused: entries.filter((entry) => entry.state === "refused").length,
      oldestAt: waiting[0]?.queuedAt ?? null,
      clockSkewMs: this.#state.skew === null ? null : Math.round(this.#state.skew.skewMs),
      batch: settings.batch,
      differences: [...new Set(this.#state.sent.filter(isDifferent).map(({ serial }) => serial))].slice(0, 20),
    });
    if (answer.kind === "refused") {
      this.#noteNetwork("there");
      this.#set({ revoked: answer.message });
      return;
    }
    this.#noteNetwork(answer.kind === "ok" ? "there" : answer.kind);
    if (answer.kind !== "ok") return;
    if (this.#state.revoked !== null) this.#set({ revoked: null });
    const { serverTime } = answer.value;
    const skew = betterSkew(this.#state.skew, clockSkew({ sentAt, answeredAt: this.#now(), serverTime }));
    if (skew !== this.#state.skew) await writeKept(this.#database, "skew", skew);
    const newBuild =
      answer.value.build !== null && build !== null && answer.value.build !== build ? answer.value.build : null;
    this.#set({ skew, newBuild });
  }

  noteStorage(storage: LineState["storage"]): void {
    this.#set({ storage });
  }
}

function withoutPicture({ jpeg: _jpeg, ...photo }: KeptPhoto): Omit<KeptPhoto, "jpeg"> {
  return photo;
}

/** A passed check in one sentence. */
function passedText({ gauge, ring, driftUm, limitUm }: DeviceZeroCheck, decimal: DeviceSettings["decimal"]): string {
  const limit = formatFixed(limitUm, Number.isInteger(limitUm) ? 0 : 1, decimal);
  return `Zero check of ${gauge} in ${ring}: ${formatDeviationUm(driftUm, 1, decimal)}, within ±${limit}\u00a0µm.`;
}
