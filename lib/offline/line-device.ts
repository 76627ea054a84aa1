import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { parseReadingName, type ReadingKind, type ReadingName } from "@/lib/core/metrology/reading-name";
import { implausibleReading } from "@/lib/core/metrology/reading-plausibility";
import { judgeFrame } from "@/lib/quality/judge-frame";
import { judgeReading } from "@/lib/quality/judge-reading";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import { betterSkew, type ClockSkew, clockSkew } from "./clock-skew";
import {
  changeQueued,
  type DeviceDatabase,
  dropPhoto,
  dropSession,
  finishSession,
  keepPhoto,
  keepSession,
  type KeptPhoto,
  listPhotos,
  listQueue,
  listSent,
  listSessions,
  type QueuedInspection,
  readKept,
  type StoredQueued,
  writeKept,
} from "./device-database";
import { entryKind, type KnownCodes } from "./entry-kind";
import {
  isComplete,
  keyedValue,
  keyedValues,
  type KeyingEvent,
  type KeyingPlan,
  type KeyingSession,
  startKeying,
  stepKeying,
  sweepWith,
  toInspection,
} from "./keying-session";
import {
  type DeviceSettings,
  type Feedback,
  findFrame,
  FIRST_SETTINGS,
  type LineState,
  type PendingStart,
  planOfBatch,
} from "./line-state";
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

export type LineDeviceOptions = {
  readonly database: DeviceDatabase;
  readonly fetcher?: Fetch;
  readonly now?: () => number;
  /** Runs what only one tab may do at a time. */
  readonly exclusively?: (run: () => Promise<void>) => Promise<void>;
};

export type PlanInHand = { readonly plan: StationPlan; readonly keying: KeyingPlan };
type NamesByPlan = Record<string, readonly ReadingName[]>;

/** Names of a plan's readings; a name that this version cannot read makes the plan unusable here. */
export function readingNamesOf(plan: StationPlan): readonly ReadingName[] | null {
  const names = plan.readingNames.map(parseReadingName);
  return names.every((name) => name.ok) ? names.flatMap((name) => (name.ok ? [name.value] : [])) : null;
}

/**
 * Gauge of each kind of reading at this station, as chosen, or the first that is not overdue. One whose last zero check failed
 * comes last, also where it was chosen.
 */
export function gaugesAtHand(kit: StationKit | null, settings: DeviceSettings): Partial<Record<ReadingKind, string>> {
  const chosen: Partial<Record<ReadingKind, string>> = {};
  for (const kind of ["bore", "sweep", "face", "width", "plug", "bar"] as const) {
    const all = (kit?.gauges ?? []).filter((gauge) => gauge.kind === kind);
    const trusted = all.filter((gauge) => gauge.zeroFailed !== true);
    const usable = trusted.length > 0 ? trusted : all;
    const gauge =
      usable.find((one) => one.key === settings.gauges[kind]) ?? usable.find((one) => !one.overdue) ?? usable[0];
    if (gauge) chosen[kind] = gauge.key;
  }
  return chosen;
}

/** What keying needs of a plan, with the gauges at hand. */
export function keyingPlan(state: Pick<LineState, "kit" | "settings">, plan: StationPlan): KeyingPlan {
  const gauges = gaugesAtHand(state.kit, state.settings);
  const bore = state.kit?.gauges.find((gauge) => gauge.key === gauges.bore);
  return {
    drawing: plan.drawing,
    names: readingNamesOf(plan) ?? [],
    ringMm: state.settings.boreEntry === "deviation" ? (bore?.ringMm ?? null) : null,
    gauges,
  };
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
  #inHand: { readonly kit: StationKit | null; readonly settings: DeviceSettings; readonly value: PlanInHand } | null =
    null;
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
      photos: [],
      inspector: null,
      pending: null,
      network: "unknown",
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
    const done = this.#acts.then(run).catch((error: unknown) => {
      const why = error instanceof Error ? error.message : String(error);
      this.#set({
        notice: {
          tone: "error",
          text: `This device could not keep that (${why}). What stands on the screen is kept; key it again.`,
        },
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
      const [settings, kit, kitAt, plans, current, inspector, skew, sessions, queue, sent, photos] = await Promise.all([
        readKept<DeviceSettings>(database, "settings"),
        readKept<StationKit>(database, "kit"),
        readKept<number>(database, "kitAt"),
        readKept<Record<string, StationPlan>>(database, "plans"),
        readKept<string>(database, "current"),
        readKept<LineState["inspector"]>(database, "inspector"),
        readKept<ClockSkew>(database, "skew"),
        listSessions(database),
        listQueue(database),
        listSent(database),
        listPhotos(database),
      ]);
      const session = sessions.find((one) => one.id === current) ?? null;
      this.#set({
        deviceId,
        settings: { ...FIRST_SETTINGS, ...settings },
        kit,
        kitAt,
        plans: plans ?? {},
        session,
        aside: sessions.filter((one) => one.id !== session?.id),
        queue,
        sent,
        photos: photos.map(withoutPicture),
        inspector,
        skew,
      });
      // A crash between the last reading and the verdict: finish what is complete.
      if (session !== null && isComplete(session)) await this.#finish(session);
    });
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
    else await this.refresh();
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
      if (this.#state.settings.stationId !== stationId) return;
      const kit = this.#withOwnWork(answer.value);
      const plans = { ...this.#state.plans };
      for (const plan of kit.plans) plans[plan.planRevisionId] = plan;
      await Promise.all([
        writeKept(this.#database, "kit", kit),
        writeKept(this.#database, "kitAt", this.#now()),
        writeKept(this.#database, "plans", plans),
      ]);
      this.#set({ kit, kitAt: this.#now(), plans });
    });
  }

  /** What waits here was measured, even if the server does not know it yet. */
  #withOwnWork(kit: StationKit): StationKit {
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
    const { session, plans, kit, settings } = this.#state;
    const plan = session === null ? undefined : plans[session.planRevisionId];
    if (!plan) return null;
    const known = this.#inHand;
    if (known?.kit === kit && known.settings === settings && known.value.plan === plan) return known.value;
    const names = (this.#names[plan.planRevisionId] ??= readingNamesOf(plan) ?? []);
    const value = { plan, keying: { ...keyingPlan(this.#state, plan), names } };
    this.#inHand = { kit, settings, value };
    return value;
  }

  /** Whatever came through the keys before Enter or Tab: a reading, a serial, a batch or a badge. */
  enter(text: string): Promise<void> {
    return this.#act(async () => {
      const { session } = this.#state;
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
    const { plans, deviceId, skew, inspector, kit } = this.#state;
    const plan = plans[session.planRevisionId];
    if (!plan) return;
    const keying = keyingPlan(this.#state, plan);
    const now = this.#now();
    const compiled = compileMeasurement(keying.names, plan.drawing);
    const judgement = judgeFrame(plan.drawing, compiled, measureFrame(compiled, keyedValues(session)));
    const inspection = toInspection(session, keying, {
      finishedAt: now,
      clockSkewMs: skew?.skewMs ?? null,
      deviceId,
      inspectorCode: inspector?.code ?? null,
    });
    const entry: QueuedInspection = {
      inspection,
      deviceVerdict: judgement.verdict,
      queuedAt: now,
      state: "waiting",
      refusal: null,
    };
    await finishSession(this.#database, entry);
    await writeKept(this.#database, "current", null);
    const found = findFrame(kit, session.serial);
    const measured =
      kit === null
        ? null
        : {
            ...kit,
            frames: kit.frames.map((each) =>
              each.batch === found?.batch
                ? {
                    ...each,
                    frames: each.frames.map((frame) =>
                      frame.serial === session.serial
                        ? {
                            ...frame,
                            verdict: judgement.verdict,
                            inspections: frame.inspections + 1,
                            state: "measured",
                          }
                        : frame,
                    ),
                  }
                : each,
            ),
          };
    if (measured !== null) await writeKept(this.#database, "kit", measured);
    const count = (this.#state.feedback?.count ?? 0) + 1;
    this.#set({
      session: null,
      kit: measured,
      queue: await listQueue(this.#database),
      finished: { inspection, plan, startedAt: session.startedAt, position: found?.frame.position ?? null },
      feedback: {
        tone: judgement.verdict === "conforms" ? "good" : judgement.holdsFrame ? "out" : "question",
        count,
      },
    });
    void this.send();
  }

  async #start({ serial, reason, agreed }: Pick<PendingStart, "serial" | "reason" | "agreed">): Promise<void> {
    const { session, settings } = this.#state;
    if (session?.serial === serial) {
      this.#set({ notice: { tone: "caution", text: `Frame ${serial} is the one in hand. Key its reading.` } });
      return;
    }
    const waitingHere = this.#state.aside.find((one) => one.serial === serial);
    if (session !== null && !agreed.includes("unfinished")) {
      const batch = findFrame(this.#state.kit, serial)?.batch ?? "";
      this.#set({ pending: { serial, batch, why: "unfinished", reason, agreed }, feedback: this.#asking() });
      return;
    }
    if (waitingHere) return this.#resume(waitingHere);
    let known = findFrame(this.#state.kit, serial);
    const lease = await leaseFrame(this.#fetch, { serial, deviceId: this.#state.deviceId });
    if (lease.kind === "refused") {
      this.#noteNetwork("there");
      this.#set({ pending: null, notice: { tone: "error", text: lease.message }, feedback: this.#asking() });
      return;
    }
    this.#noteNetwork(lease.kind === "ok" ? "there" : lease.kind);
    if (known === null && lease.kind === "ok") {
      // Not among the frames on this device: a newer batch, or one of another time.
      const answer = settings.stationId === null ? null : await fetchStationKit(this.#fetch, settings.stationId);
      if (answer?.kind === "ok") {
        const plans = { ...this.#state.plans };
        for (const plan of answer.value.plans) plans[plan.planRevisionId] = plan;
        await writeKept(this.#database, "kit", answer.value);
        await writeKept(this.#database, "plans", plans);
        this.#set({ kit: answer.value, kitAt: this.#now(), plans });
      }
      known = findFrame(this.#state.kit, serial);
    }
    const batch = known?.batch ?? (lease.kind === "ok" ? lease.value.batch : null);
    const plan = batch === null ? null : planOfBatch(this.#state.kit, batch);
    if (batch === null || plan === null || readingNamesOf(plan) === null) {
      this.#set({
        pending: null,
        feedback: this.#asking(),
        notice: {
          tone: "error",
          text:
            batch === null
              ? `No frame ${serial} is known on this device, and the server does not answer. Scan it again, or wait for the network.`
              : `Frame ${serial} is of batch ${batch}, for which this station has no measuring plan. Measure it at its own line.`,
        },
      });
      if (lease.kind === "ok") void giveUpLease(this.#fetch, { serial, deviceId: this.#state.deviceId });
      return;
    }
    const before = Math.max(known?.frame.inspections ?? 0, lease.kind === "ok" ? lease.value.inspections : 0);
    const why: PendingStart["why"] | null =
      settings.batch !== null && settings.batch !== batch && !agreed.includes("other batch")
        ? "other batch"
        : before > 0 && reason === null
          ? "measured before"
          : null;
    if (why !== null) {
      this.#set({ pending: { serial, batch, why, reason, agreed }, feedback: this.#asking() });
      return;
    }
    const started = startKeying(
      {
        id: uuidV7(this.#now()),
        serial,
        batch,
        stationId: settings.stationId ?? "",
        planRevisionId: plan.planRevisionId,
        startedAt: this.#now(),
        reason,
        ...(known?.frame.planned === false ? { outsidePlan: true as const } : {}),
      },
      { names: readingNamesOf(plan) ?? [] },
    );
    await this.#take(started);
    if (settings.batch !== batch) await this.#chooseBatch(batch);
  }

  #asking(): Feedback {
    return { tone: "question", count: (this.#state.feedback?.count ?? 0) + 1 };
  }

  /** Takes a frame in hand; the one before stays on the device as it is. */
  async #take(session: KeyingSession): Promise<void> {
    await keepSession(this.#database, session);
    await writeKept(this.#database, "current", session.id);
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

  /** Answers what stands before starting a frame. */
  agree(reason: string | null = null): Promise<void> {
    return this.#act(async () => {
      const { pending } = this.#state;
      if (pending === null) return;
      const why = reason?.trim() ? reason.trim().slice(0, 500) : pending.reason;
      this.#set({ pending: null });
      await this.#start({ serial: pending.serial, reason: why, agreed: [...pending.agreed, pending.why] });
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
  closeFinished(): void {
    this.#set({ finished: null });
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

  /** A person decides about an inspection that the server refused. */
  decide(order: number, decision: { readonly kind: "aside" } | { readonly kind: "again"; readonly reason: string }) {
    return this.#act(async () => {
      const found = this.#state.queue.find((entry) => entry.order === order);
      if (!found) return;
      const { order: _order, ...entry } = found;
      await changeQueued(
        this.#database,
        order,
        decision.kind === "aside" ? { ...entry, state: "aside" } : sentAgain(entry, decision.reason, this.#now()),
      );
      this.#set({ queue: await listQueue(this.#database) });
      if (decision.kind === "again") void this.send();
    });
  }

  /** Everything that is only on this device, as text for a file. */
  async saveText(): Promise<string> {
    const [queue, photos, sessions, givenUp] = await Promise.all([
      listQueue(this.#database),
      listPhotos(this.#database),
      listSessions(this.#database),
      readKept<unknown[]>(this.#database, "givenUp"),
    ]);
    const { deviceId } = this.#state;
    return JSON.stringify(
      { format: "shellgate-line-queue", version: 1, deviceId, savedAt: this.#now(), queue, photos, sessions, givenUp },
      null,
      1,
    );
  }

  /** Takes the queue of a file in, whatever is here already by its key left out. */
  loadText(text: string): Promise<void> {
    return this.#act(async () => {
      const loaded = readQueueFile(text);
      if (loaded === null) {
        this.#set({ notice: { tone: "error", text: "This is not a queue saved by Line. Nothing was loaded." } });
        return;
      }
      const here = new Set([
        ...this.#state.queue.map(({ inspection }) => inspection.id),
        ...this.#state.sent.map(({ id }) => id),
      ]);
      const fresh = loaded.filter(({ inspection }) => !here.has(inspection.id));
      for (const entry of fresh) await finishSession(this.#database, entry);
      this.#set({
        queue: await listQueue(this.#database),
        notice: {
          tone: "done",
          text: `${fresh.length} of ${loaded.length} inspections were loaded; the others were here already.`,
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
      if (this.#state.settings.stationId === null) return;
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
      else if (result.sent.length > 0 || result.refused > 0) {
        this.#noteNetwork("there");
        const [queue, sent] = await Promise.all([listQueue(this.#database), listSent(this.#database)]);
        this.#set({ queue, sent, ...(result.refused > 0 ? { feedback: this.#asking() } : {}) });
      }
      more = result.kind === "sent" && result.left > 0;
    }
  }

  /** Asks the server for its time and build, and tells it of the queue. */
  async report(build: string | null): Promise<void> {
    const { settings, deviceId, queue } = this.#state;
    if (settings.stationId === null) return;
    const waiting = queue.filter((entry) => entry.state === "waiting");
    const sentAt = this.#now();
    const answer = await sendReport(this.#fetch, {
      deviceId,
      stationId: settings.stationId,
      waiting: waiting.length,
      refused: queue.filter((entry) => entry.state === "refused").length,
      oldestAt: waiting[0]?.queuedAt ?? null,
      clockSkewMs: this.#state.skew === null ? null : Math.round(this.#state.skew.skewMs),
    });
    if (answer.kind === "refused") {
      this.#set({ notice: { tone: "error", text: answer.message } });
      return;
    }
    this.#noteNetwork(answer.kind === "ok" ? "there" : answer.kind);
    if (answer.kind !== "ok") return;
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

/** A refused inspection as it goes out again: with its reason, and what the refusal showed put right. */
function sentAgain(entry: QueuedInspection, reason: string, now: number): QueuedInspection {
  const { refusal } = entry;
  const batch = refusal?.code === "wrong-batch" ? refusal.details.batch : undefined;
  const fresh = refusal?.code === "already-recorded-differently" ? { id: uuidV7(now) } : {};
  const why = reason.trim() === "" ? {} : { reason: reason.trim().slice(0, 500) };
  return {
    ...entry,
    inspection: { ...entry.inspection, ...fresh, ...why, ...(typeof batch === "string" ? { batch } : {}) },
    state: "waiting",
    refusal: null,
  };
}

function readQueueFile(text: string): QueuedInspection[] | null {
  try {
    const file = JSON.parse(text) as { format?: unknown; queue?: readonly StoredQueued[] };
    if (file.format !== "shellgate-line-queue" || !Array.isArray(file.queue)) return null;
    return file.queue.map(({ order: _order, ...entry }) => entry);
  } catch {
    return null;
  }
}
