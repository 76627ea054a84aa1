import { type DBSchema, type IDBPDatabase, openDB } from "idb";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { FrameState } from "@/lib/quality/frame-state";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { KeyingSession } from "./keying-session";
import type { DeviceZeroCheck, GaugeUse } from "./zero-check";

/** Why the server did not take an inspection, as it said it. */
export type SendRefusal = {
  readonly code: string;
  readonly message: string;
  readonly details: Readonly<Record<string, unknown>>;
  readonly at: number;
};

/** A finished inspection that the server has not taken yet. */
export type QueuedInspection = {
  readonly inspection: RecordInspection;
  /** What this device made of it: the server's result is the record, a difference is a fault. */
  readonly deviceVerdict: Verdict;
  readonly queuedAt: number;
  /** "refused": a person has to decide; "aside": decided to be kept only. */
  readonly state: "waiting" | "refused" | "aside";
  readonly refusal: SendRefusal | null;
};

export type StoredQueued = QueuedInspection & { readonly order: number };

/** A zero check that the server has not taken yet; it waits in the same queue as the inspections. */
export type QueuedCheck = {
  readonly check: DeviceZeroCheck;
  readonly queuedAt: number;
  readonly state: QueuedInspection["state"];
  readonly refusal: SendRefusal | null;
};

export type StoredCheck = QueuedCheck & { readonly order: number };
export type StoredEntry = StoredQueued | StoredCheck;

export function isCheck<T extends QueuedInspection | QueuedCheck>(entry: T): entry is Extract<T, QueuedCheck> {
  return "check" in entry;
}

export function isInspection<T extends QueuedInspection | QueuedCheck>(
  entry: T,
): entry is Extract<T, QueuedInspection> {
  return !isCheck(entry);
}

/** What the server made of a zero check of this device. */
export type ZeroAnswer = {
  readonly passed: boolean;
  /** The last good check before a failed one, as the server knows it. */
  readonly since: string | null;
  /** Frames that rest on the gauge since then, and how many of them have shipped. */
  readonly frames: number;
  readonly shipped: number;
  readonly held: number;
  readonly escapes: number;
  readonly batchesHeld: readonly string[];
};

export type SentCheck = { readonly check: DeviceZeroCheck; readonly sentAt: number; readonly answer: ZeroAnswer };

/** What the server answered to an inspection of this device. */
export type SentInspection = {
  readonly id: string;
  readonly serial: string;
  readonly batch: string;
  readonly sentAt: number;
  readonly deviceVerdict: Verdict;
  readonly verdict: Verdict;
  readonly frameVerdict: Verdict;
  readonly frameState: FrameState;
  readonly ordinal: number;
  readonly held: boolean;
  readonly batchHeld: boolean;
  readonly warnings: readonly string[];
  /** What the server doubts of the gauges. Absent from those kept by earlier versions. */
  readonly doubts?: readonly string[];
  /** What keeps the frame from conforming by all its valid inspections, where those decide otherwise than this one alone. */
  readonly reasons?: readonly ToldCharacteristic[];
  /** Somebody has read what the server said of it. */
  readonly seen?: true;
};

/** The server's result is another than the device's, and no doubt about a gauge explains it: a fault of the program. */
export function isDifferent({ verdict, deviceVerdict, doubts = [] }: SentInspection): boolean {
  return verdict !== deviceVerdict && doubts.length === 0;
}

/** The server said something of it that a person has to read: nobody looked at its verdict when the answer came. */
export function isToBeRead(sent: SentInspection): boolean {
  return sent.seen !== true && (sent.warnings.length > 0 || sent.verdict !== sent.deviceVerdict);
}

/** A photo of an inspection that the server has not taken yet. */
export type KeptPhoto = {
  readonly id: string;
  readonly inspectionId: string;
  readonly serial: string;
  /** The JPEG file in base64, as it is sent. */
  readonly jpeg: string;
  readonly takenAt: number;
  /** Why the server did not take it. */
  readonly refusal: string | null;
  /** Its frame was given up: it stays on this device, as the readings do. */
  readonly givenUp?: true;
};

interface DeviceSchema extends DBSchema {
  /** Settings, the station's package and other single things, by name. */
  kept: { key: string; value: unknown };
  /** Frames that were started and are not finished. */
  sessions: { key: string; value: KeyingSession };
  /** Finished inspections and zero checks in the order in which they were done. */
  outbox: { key: number; value: QueuedInspection | QueuedCheck; indexes: { id: string } };
  sent: { key: string; value: SentInspection; indexes: { sentAt: number } };
  photos: { key: string; value: KeptPhoto };
}

export type DeviceDatabase = IDBPDatabase<DeviceSchema>;

const NAME = "shellgate-line";
const VERSION = 2;

/** Opens the device's database; a newer version of the program in another tab closes this one's connection. */
export function openDeviceDatabase(onMustClose: () => void = () => {}): Promise<DeviceDatabase> {
  return openDB<DeviceSchema>(NAME, VERSION, {
    upgrade(database, from) {
      if (from < 2) database.createObjectStore("photos", { keyPath: "id" });
      if (from >= 1) return;
      database.createObjectStore("kept");
      database.createObjectStore("sessions", { keyPath: "id" });
      const outbox = database.createObjectStore("outbox", { autoIncrement: true });
      outbox.createIndex("id", "inspection.id", { unique: true });
      database.createObjectStore("sent", { keyPath: "id" }).createIndex("sentAt", "sentAt");
    },
    blocking(_current, _blocked, event) {
      (event.target as IDBDatabase).close();
      onMustClose();
    },
  });
}

/** Strict: the write is on the disk, and not only in the browser's memory, before the reading counts. */
const STRICT = { durability: "strict" } as const;

export async function readKept<T>(database: DeviceDatabase, name: string): Promise<T | null> {
  return ((await database.get("kept", name)) as T | undefined) ?? null;
}

export async function writeKept(database: DeviceDatabase, name: string, value: unknown): Promise<void> {
  await database.put("kept", value, name);
}

/** Writes a frame being measured as it stands; resolves when it is on the disk. */
export async function keepSession(database: DeviceDatabase, session: KeyingSession): Promise<void> {
  const transaction = database.transaction("sessions", "readwrite", STRICT);
  await Promise.all([transaction.store.put(session), transaction.done]);
}

export async function dropSession(database: DeviceDatabase, id: string): Promise<void> {
  await database.delete("sessions", id);
}

/** Unfinished frames, oldest first. */
export async function listSessions(database: DeviceDatabase): Promise<KeyingSession[]> {
  return (await database.getAll("sessions")).sort((a, b) => a.startedAt - b.startedAt);
}

/**
 * The frame is finished: its session goes and its inspection queues, and what it leaves of the gauges' use is kept with it,
 * all or nothing.
 *
 * @param use - null where the inspection was not finished on this device
 * @returns its place in the queue
 */
export async function finishSession(
  database: DeviceDatabase,
  entry: QueuedInspection,
  use: Readonly<Record<string, GaugeUse>> | null = null,
): Promise<number> {
  const transaction = database.transaction(["sessions", "outbox", "kept"], "readwrite", STRICT);
  const kept = transaction.objectStore("kept");
  const [order] = await Promise.all([
    transaction.objectStore("outbox").add(entry),
    transaction.objectStore("sessions").delete(entry.inspection.id),
    ...(use === null ? [] : [kept.put(use, "gaugeUse"), kept.put(null, "current")]),
    transaction.done,
  ]);
  return order;
}

/** A zero check joins the queue, and what it leaves of the gauge's use is kept with it, both or neither. */
export async function keepCheck(
  database: DeviceDatabase,
  entry: QueuedCheck,
  use: Readonly<Record<string, GaugeUse>>,
): Promise<void> {
  const transaction = database.transaction(["outbox", "kept"], "readwrite", STRICT);
  await Promise.all([
    transaction.objectStore("outbox").add(entry),
    transaction.objectStore("kept").put(use, "gaugeUse"),
    transaction.done,
  ]);
}

/** Sent zero checks that are kept: enough for a shift of every gauge. */
const CHECKS_KEPT = 40;

export async function listSentChecks(database: DeviceDatabase): Promise<readonly SentCheck[]> {
  return (await readKept<readonly SentCheck[]>(database, "checks")) ?? [];
}

/** The server has taken a zero check: out of the queue and into what was sent, both or neither. */
export async function markCheckSent(database: DeviceDatabase, order: number, sent: SentCheck): Promise<void> {
  const transaction = database.transaction(["outbox", "kept"], "readwrite", STRICT);
  const kept = transaction.objectStore("kept");
  const before = ((await kept.get("checks")) as readonly SentCheck[] | undefined) ?? [];
  const others = before.filter(({ check }) => check.id !== sent.check.id);
  await Promise.all([
    transaction.objectStore("outbox").delete(order),
    kept.put([...others, sent].slice(-CHECKS_KEPT), "checks"),
    transaction.done,
  ]);
}

/** The queue in the order in which things were done. */
export async function listOutbox(database: DeviceDatabase): Promise<StoredEntry[]> {
  const entries: StoredEntry[] = [];
  const transaction = database.transaction("outbox");
  for (let cursor = await transaction.store.openCursor(); cursor; cursor = await cursor.continue())
    entries.push({ ...cursor.value, order: cursor.key });
  return entries;
}

/** The inspections of the queue. */
export async function listQueue(database: DeviceDatabase): Promise<StoredQueued[]> {
  return (await listOutbox(database)).filter(isInspection);
}

/** The server has taken it: out of the queue and into what was sent, both or neither. */
export async function markSent(database: DeviceDatabase, order: number, sent: SentInspection): Promise<void> {
  const transaction = database.transaction(["outbox", "sent"], "readwrite", STRICT);
  await Promise.all([
    transaction.objectStore("outbox").delete(order),
    transaction.objectStore("sent").put(sent),
    transaction.done,
  ]);
}

/** Somebody has read what the server said of some inspections. */
export async function markSeen(database: DeviceDatabase, ids: readonly string[]): Promise<void> {
  const transaction = database.transaction("sent", "readwrite");
  for (const id of ids) {
    const sent = await transaction.store.get(id);
    if (sent !== undefined) await transaction.store.put({ ...sent, seen: true });
  }
  await transaction.done;
}

/** Changes an entry of the queue where it stands; null takes it out (a person decided, and it is in a file). */
export async function changeQueued(
  database: DeviceDatabase,
  order: number,
  entry: QueuedInspection | QueuedCheck | null,
): Promise<void> {
  const transaction = database.transaction("outbox", "readwrite", STRICT);
  const change = entry === null ? transaction.store.delete(order) : transaction.store.put(entry, order);
  await Promise.all([change, transaction.done]);
}

/** Changes entries of the queue where they stand, all or none. */
export async function changeAllQueued(database: DeviceDatabase, entries: readonly StoredEntry[]): Promise<void> {
  const transaction = database.transaction("outbox", "readwrite", STRICT);
  const changes = entries.map(({ order, ...entry }) => transaction.store.put(entry, order));
  await Promise.all([...changes, transaction.done]);
}

const SENT_KEPT = 200;
/** Where storage is short: enough to recognise a repeated send of a file, and what somebody has to read. */
const SENT_KEPT_AT_LEAST = 20;

/** The last inspections that the server took, newest first; older ones are cleared away. */
export async function listSent(database: DeviceDatabase): Promise<SentInspection[]> {
  const all = await database.getAllFromIndex("sent", "sentAt");
  const surplus = all.slice(0, Math.max(0, all.length - SENT_KEPT));
  await Promise.all(surplus.map(({ id }) => database.delete("sent", id)));
  return all.slice(surplus.length).reverse();
}

export async function keepPhoto(database: DeviceDatabase, photo: KeptPhoto): Promise<void> {
  const transaction = database.transaction("photos", "readwrite", STRICT);
  await Promise.all([transaction.store.put(photo), transaction.done]);
}

/** The server has it. */
export async function dropPhoto(database: DeviceDatabase, id: string): Promise<void> {
  await database.delete("photos", id);
}

export function withoutPicture({ jpeg: _jpeg, ...photo }: KeptPhoto): Omit<KeptPhoto, "jpeg"> {
  return photo;
}

/** Photos that the server is to get, the pictures left out. */
export function toSend(photos: readonly KeptPhoto[]): Omit<KeptPhoto, "jpeg">[] {
  return photos.filter(({ givenUp }) => givenUp !== true).map(withoutPicture);
}

/** Photos on the device in the order in which they were taken. */
export async function listPhotos(database: DeviceDatabase): Promise<KeptPhoto[]> {
  return (await database.getAll("photos")).sort((a, b) => a.takenAt - b.takenAt);
}

/**
 * Makes room where storage is short, from what the server has already: never a reading that is only here.
 *
 * @returns how many entries were cleared away
 */
export async function clearSent(database: DeviceDatabase): Promise<number> {
  const all = await database.getAllFromIndex("sent", "sentAt");
  const surplus = all.filter((sent) => !isToBeRead(sent)).slice(0, Math.max(0, all.length - SENT_KEPT_AT_LEAST));
  await Promise.all(surplus.map(({ id }) => database.delete("sent", id)));
  return surplus.length;
}
