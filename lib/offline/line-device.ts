import type { UnseenDirection } from "@/lib/core/metrology/measurement-checks";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import type { StationKit } from "@/lib/schemas/station-package";
import { DeviceCore, type LineDeviceOptions } from "./device/device-core";
import { writeKept } from "./device/device-database";
import { entryKind, type KnownCodes } from "./device/entry-kind";
import { firstOffNow } from "./device/first-off";
import type { PlanInHand } from "./keying/keying-acts";
import { keyingPlan, readingNamesOf } from "./device/keying-plan";
import type { OffScale } from "@/lib/core/metrology/gauge-range";
import type { KeyingEvent } from "./device/keying-session";
import { keyingActs, queueDecisions, startActs, zeroActs } from "./later-acts";
import type { DeviceSettings, LineState } from "./device/line-state";
import { openKept } from "./open-device";
import { nameDevice, reportState, sendEverything } from "./queue/queue-acts";
import type { Decision } from "./queue/queue-decisions";
import { keepDirections } from "./verdict/sweep-directions";
import { keepShown } from "./verdict/shown-verdict";
import * as station from "./choose/station-acts";
import type { Seen } from "./device/typed-ahead";

/**
 * The device at a station: what is chosen, measured, queued and sent. Every change of a reading is on its way to
 * the disk before the screen shows it, and counts as kept when it is there; acts run one after the other in the order in which they were asked for.
 */
export class LineDevice {
  readonly #core: DeviceCore;
  readonly subscribe: DeviceCore["subscribe"];
  readonly getState: DeviceCore["getState"];
  #sending: Promise<void> | null = null;
  #lookAgain = false;
  #names: Record<string, readonly ReadingName[]> = {};
  #inHand: { readonly of: Pick<LineState, "kit" | "settings" | "inspector">; readonly value: PlanInHand } | null = null;
  #codes: { readonly kit: StationKit | null; readonly known: KnownCodes } | null = null;

  constructor(options: LineDeviceOptions) {
    this.#core = new DeviceCore(options);
    this.#core.queued = () => void this.send();
    this.subscribe = this.#core.subscribe;
    this.getState = this.#core.getState;
  }

  #act(run: () => Promise<void>): Promise<void> {
    return this.#core.act(run);
  }

  /** Reads what the device remembers. */
  open(): Promise<void> {
    return this.#act(async () => {
      const session = await openKept(this.#core);
      if (session !== null) await (await keyingActs.load()).finishIfComplete(this.#core, session);
    });
  }

  changeSettings(change: Partial<DeviceSettings>): Promise<void> {
    return station.changeSettings(this.#core, change);
  }

  loadStations(): Promise<void> {
    return station.loadStations(this.#core);
  }

  /**
   * Moves the device to a station. Where the server does not answer, it stays where it is. True where it moved.
   *
   * @param name - what people call the device, where it has no name yet
   */
  async chooseStation(stationId: string, name = ""): Promise<boolean> {
    if (!(await station.moveToStation(this.#core, stationId))) return false;
    if (name.trim() !== "") await nameDevice(this.#core, name.trim());
    // Registers the device at its station at once.
    await this.report(null);
    return true;
  }

  /** Loads plans, batches, frames and gauges of the station anew. */
  refresh(): Promise<void> {
    return station.refreshKit(this.#core);
  }

  chooseBatch(batch: string | null): Promise<void> {
    return this.#act(() => station.chooseBatch(this.#core, batch));
  }

  #known(): KnownCodes {
    const { kit } = this.getState();
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
    const { session, plans, kit, settings, inspector } = this.getState();
    const plan = session === null ? undefined : plans[session.planRevisionId];
    if (!plan) return null;
    const known = this.#inHand;
    const isSame = known?.of.kit === kit && known.of.settings === settings && known.of.inspector === inspector;
    if (isSame && known.value.plan === plan) return known.value;
    const names = (this.#names[plan.planRevisionId] ??= readingNamesOf(plan) ?? []);
    const value = { plan, keying: { ...keyingPlan(this.getState(), plan), names } };
    this.#inHand = { of: { kit, settings, inspector }, value };
    return value;
  }

  /**
   * Whatever came through the keys before Enter or Tab: a reading, a zero check, a serial, a batch or a badge.
   *
   * @param seen - what was on the screen while it was typed
   */
  enter(text: string, seen: Seen = "scan"): Promise<void> {
    return this.#core.keyed(async () => {
      const core = this.#core;
      const asked = this.getState().zero;
      if (asked !== null && asked.failed === null && !this.#known().badges.has(text.trim())) {
        const then = await (await zeroActs.load()).enterZeroCheck(core, text, seen);
        if (then !== null) await (await startActs.load()).startFrame(core, then);
        return;
      }
      // Waits only where the part is not there yet: else the answer is drawn with the emptied field, at once.
      const keying = keyingActs.now() ?? (await keyingActs.load());
      const entry = entryKind(text, this.#known(), keying.plausibilityOf(this.getState().session, this.planInHand()));
      switch (entry.kind) {
        case "reading":
          if (seen.startsWith("zero ")) return core.sayNotMeant(text, "The zero check was over already");
          return keying.keyEvent(core, this.planInHand(), {
            type: "enter",
            text: entry.text,
            offsetMs: this.#offset(),
          });
        case "badge": {
          const inspector = { code: entry.code, name: entry.name };
          await writeKept(core.database, "inspector", inspector);
          core.set({ inspector, notice: { tone: "done", text: `${entry.name} measures now.` } });
          return;
        }
        case "batch":
          return station.chooseBatch(core, entry.batch);
        case "serial":
          return (await startActs.load()).startFrame(core, { serial: entry.serial, reason: null, agreed: [] });
      }
    });
  }

  #offset(): number {
    const now = this.#core.now();
    return Math.max(0, now - (this.getState().session?.startedAt ?? now));
  }

  /** An act of keying other than a number: questions, corrections, words, jumps. */
  key(
    event:
      | KeyingEvent
      | { readonly type: "yes" | "as keyed" | "take offer" }
      | { readonly type: "off scale"; readonly side: OffScale }
      | { readonly type: "cannot"; readonly reason: string },
  ) {
    const timed = "offsetMs" in event ? event : ({ ...event, offsetMs: this.#offset() } as KeyingEvent);
    return this.#core.keyed(async () => {
      const { keyEvent } = keyingActs.now() ?? (await keyingActs.load());
      await keyEvent(this.#core, this.planInHand(), timed);
    });
  }

  /** How the line stands with its first-off, as far as this device knows. */
  firstOff() {
    const { kit, ownFirstOff } = this.getState();
    return firstOffNow(kit, ownFirstOff, this.#core.serverNow());
  }

  /** Goes on with a frame that was put aside. */
  resume(id: string): Promise<void> {
    return this.#act(async () => {
      const session = this.getState().aside.find((one) => one.id === id);
      if (session) await (await startActs.load()).goOnWith(this.#core, session);
    });
  }

  /** Answers what stands before starting a frame; the reason says why it is measured again, or before a release. */
  agree(reason: string | null = null): Promise<void> {
    return this.#act(async () => (await startActs.load()).agreeToStart(this.#core, reason));
  }

  disagree(): Promise<void> {
    return this.#act(async () => (await startActs.load()).dropStart(this.#core));
  }

  /** Looks again whether the line was released, and goes on with the scan where it was. */
  lookAgain(): Promise<void> {
    return startActs.load().then(({ lookAgain }) => lookAgain(this.#core));
  }

  /** Leaves the frame in hand half way; it waits on this device. */
  putAside(): Promise<void> {
    return this.#act(async () => (await startActs.load()).putFrameAside(this.#core));
  }

  /** Gives a started frame up; what was keyed goes to the device's own record and the frame is free again. */
  giveUp(id: string, reason: string): Promise<void> {
    return this.#act(async () => (await startActs.load()).giveFrameUp(this.#core, id, reason));
  }

  /** Asks for the zero check of a gauge: because it is due, was knocked, or somebody wants it. */
  checkZero(key: string, knocked = false): Promise<void> {
    return this.#act(async () => (await zeroActs.load()).wantZeroCheck(this.#core, key, knocked));
  }

  /** Keys the check of the failed gauge again: cleaned, set anew, or in its own ring this time. */
  checkZeroAgain(): Promise<void> {
    return this.#act(async () => {
      const asked = this.getState().zero;
      if (asked !== null) this.#core.set({ zero: { ...asked, occasion: "other", why: null, failed: null } });
    });
  }

  /** Leaves the zero check; a scan that waits behind it goes on without. */
  leaveZero(): Promise<void> {
    return this.#act(async () => {
      const then = await (await zeroActs.load()).leaveZeroCheck(this.#core);
      if (then !== null) await (await startActs.load()).startFrame(this.#core, then);
    });
  }

  /** Leaves the zero check and the scan that waits behind it. */
  dropZero(): Promise<void> {
    return this.#act(async () => (await zeroActs.load()).dropZeroCheck(this.#core));
  }

  /** Takes another gauge for its kind of reading from here on; what was measured keeps its own. */
  chooseGauge(key: string): Promise<void> {
    return this.#act(async () => (await zeroActs.load()).takeGauge(this.#core, key));
  }

  /** Somebody said that sweeps which begin like these were keyed that way round. */
  confirmDirections(unseen: readonly UnseenDirection[]): Promise<void> {
    return this.#act(() => keepDirections(this.#core, unseen));
  }

  /** Leaves the verdict. */
  closeFinished(): Promise<void> {
    return this.#act(async () => {
      await (await startActs.load()).noteSeen(this.#core);
      await keepShown(this.#core, null);
      this.#core.set({ finished: null });
    });
  }

  /** Somebody has read what the server said of some inspections. */
  markRead(ids: readonly string[]): Promise<void> {
    return this.#act(async () => (await startActs.load()).markRead(this.#core, ids));
  }

  /** Keeps a photo with the frame in hand, or with the one whose verdict is shown; it is sent after its inspection. */
  addPhoto(jpeg: string): Promise<void> {
    return this.#act(async () => (await queueDecisions.load()).addPhoto(this.#core, jpeg));
  }

  closeNotice(): void {
    this.#core.set({ notice: null });
  }

  /** A person decides about an inspection or a zero check that the server refused. */
  decide(order: number, decision: Decision): Promise<void> {
    return this.#act(async () => (await queueDecisions.load()).decideEntry(this.#core, order, decision));
  }

  /** Everything that is only on this device, as text for a file. */
  saveText(): Promise<string> {
    return queueDecisions.load().then(({ saveQueue }) => saveQueue(this.#core));
  }

  /** Takes the queue of a file in, whatever is here already by its key left out. */
  loadText(text: string): Promise<void> {
    return this.#act(async () => (await queueDecisions.load()).loadQueue(this.#core, text));
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
      await sendEverything(this.#core);
    }
  }

  /** Asks the server for its time and build, and tells it of the queue. */
  async report(build: string | null): Promise<void> {
    await reportState(this.#core, build);
  }

  noteStorage(storage: LineState["storage"]): void {
    this.#core.set({ storage });
  }
}
