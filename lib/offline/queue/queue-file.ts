import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import {
  type DeviceDatabase,
  finishSession,
  isCheck,
  keepCheck,
  keepPhoto,
  keepSession,
  type KeptPhoto,
  listOutbox,
  listPhotos,
  listSent,
  listSentChecks,
  listSessions,
  type QueuedCheck,
  type QueuedInspection,
  readKept,
  writeKept,
} from "../device/device-database";
import type { StationPlan } from "@/lib/schemas/station-package";
import type { KeyingSession } from "../device/keying-session";
import { isWholeEntry, isWholePhoto, isWholePlan, wholeSession } from "./queue-file-shape";
import type { GaugeUse } from "../device/zero-check";

const FORMAT = "shellgate-line-queue";

type Entry = QueuedInspection | QueuedCheck;

type Plans = Readonly<Record<string, StationPlan>>;

type QueueFile = {
  readonly queue: readonly Entry[];
  readonly photos: readonly KeptPhoto[];
  readonly sessions: readonly KeyingSession[];
  readonly plans: readonly StationPlan[];
  /** Parts that are not whole: shown or sent they would do harm. */
  readonly damaged: number;
};

/** Everything that is only on this device, as text for a file, with the plans by which started frames are gone on with. */
export async function queueFileText(database: DeviceDatabase, deviceId: string, savedAt: number): Promise<string> {
  const [queue, photos, sessions, givenUp, known] = await Promise.all([
    listOutbox(database),
    listPhotos(database),
    listSessions(database),
    readKept<unknown[]>(database, "givenUp"),
    readKept<Plans>(database, "plans"),
  ]);
  const plans = [...new Set(sessions.map(({ planRevisionId }) => planRevisionId))].flatMap((id) => known?.[id] ?? []);
  const whole = { format: FORMAT, version: 1, deviceId, savedAt, queue, photos, sessions, plans, givenUp };
  return JSON.stringify(whole, null, 1);
}

function readQueueFile(text: string): QueueFile | null {
  try {
    const file = JSON.parse(text) as Partial<Record<"format" | "queue" | "photos" | "sessions" | "plans", unknown>>;
    if (file.format !== FORMAT || !Array.isArray(file.queue)) return null;
    const listed = (part: unknown): unknown[] => (Array.isArray(part) ? part : []);
    const entries = listed(file.queue).filter(isWholeEntry) as readonly (Entry & { readonly order?: number })[];
    const photos = listed(file.photos).filter(isWholePhoto);
    const sessions = listed(file.sessions).flatMap((one) => wholeSession(one) ?? []);
    const all = file.queue.length + listed(file.photos).length + listed(file.sessions).length;
    return {
      queue: entries.map(({ order: _order, ...entry }) => entry as Entry),
      photos,
      sessions,
      plans: listed(file.plans).filter(isWholePlan),
      damaged: all - entries.length - photos.length - sessions.length,
    };
  } catch {
    return null;
  }
}

export type Loaded = {
  /** Inspections, zero checks, photos and started frames that were taken in, and those that the file holds. */
  readonly taken: number;
  readonly inFile: number;
  /** Parts of the file that are not whole, left out. */
  readonly damaged: number;
};

function idOf(entry: Entry): string {
  return isCheck(entry) ? entry.check.id : entry.inspection.id;
}

/**
 * Takes in what a file holds, whatever is here already by its key left out. A started frame comes as one put aside.
 *
 * @returns null where the text is no such file
 */
export async function loadQueueFile(
  database: DeviceDatabase,
  text: string,
  use: Readonly<Record<string, GaugeUse>>,
): Promise<Loaded | null> {
  const file = readQueueFile(text);
  if (file === null) return null;
  const [outbox, sent, sentChecks, photos, sessions] = await Promise.all([
    listOutbox(database),
    listSent(database),
    listSentChecks(database),
    listPhotos(database),
    listSessions(database),
  ]);
  const here = new Set([
    ...outbox.map(idOf),
    ...sent.map(({ id }) => id),
    ...sentChecks.map(({ check }) => check.id),
    ...photos.map(({ id }) => id),
    ...sessions.map(({ id }) => id),
  ]);
  let taken = 0;
  for (const entry of file.queue.filter((one) => !here.has(idOf(one)))) {
    if (isCheck(entry)) await keepCheck(database, entry, use);
    else await finishSession(database, entry);
    taken += 1;
  }
  for (const photo of file.photos.filter(({ id }) => !here.has(id))) {
    await keepPhoto(database, photo);
    taken += 1;
  }
  if (file.plans.length > 0) {
    const read = Object.fromEntries(file.plans.map((plan) => [plan.planRevisionId, plan]));
    await writeKept(database, "plans", { ...read, ...(await readKept<Plans>(database, "plans")) });
  }
  for (const session of file.sessions.filter(({ id }) => !here.has(id))) {
    await keepSession(database, session);
    taken += 1;
  }
  const whole = file.queue.length + file.photos.length + file.sessions.length;
  return { taken, inFile: whole + file.damaged, damaged: file.damaged };
}

/** What is known on this device when an entry is sent again. */
export type SentAgainBy = {
  readonly now: number;
  readonly deviceId: string;
  readonly skewMs: number | null;
  /** Code of who decides. */
  readonly inspector: string | null;
};

/** Codes of an inspection with one that belongs to nobody any more replaced. */
function withCode(inspection: RecordInspection, gone: unknown, inspector: string | null): Partial<RecordInspection> {
  if (typeof gone !== "string" || inspector === null) return {};
  const code = (one: string) => (one === gone ? inspector : one);
  const { inspectorCode, attributes, superseded } = inspection;
  return {
    ...(inspectorCode === undefined ? {} : { inspectorCode: code(inspectorCode) }),
    ...(attributes?.inspectors === undefined
      ? {}
      : {
          attributes: {
            ...attributes,
            inspectors: attributes.inspectors.map((one) => ({ ...one, code: code(one.code) })),
          },
        }),
    ...(superseded === undefined
      ? {}
      : { superseded: superseded.map((one) => (one.by === undefined ? one : { ...one, by: code(one.by) })) }),
  };
}

/** What the reason says first: from which device or under which badge the readings were. */
function origin({ refusal, inspection }: QueuedInspection): string {
  if (refusal?.details.revoked === true) return `measured on ${inspection.deviceId ?? "another device"}: `;
  return typeof refusal?.details.badge === "string" ? `measured under badge ${refusal.details.badge}: ` : "";
}

/** A refused entry as it goes out again: an inspection with its reason, and what the refusal showed put right. */
export function sentAgain(entry: Entry, reason: string, { now, deviceId, skewMs, inspector }: SentAgainBy): Entry {
  const { refusal } = entry;
  const fresh = refusal?.code === "already-recorded-differently" ? { id: uuidV7(now) } : {};
  // From the file of a device that was taken out of use: this one stands for it, and the reason says so.
  const stands = refusal?.details.revoked === true ? { deviceId } : {};
  // Finished before the distance of the clocks was known, or after somebody had set this one.
  const isClock = refusal?.details.clock === true && skewMs !== null;
  const badge = refusal?.details.badge;
  if (isCheck(entry))
    return {
      ...entry,
      check: {
        ...entry.check,
        ...fresh,
        ...stands,
        ...(isClock ? { skewMs } : {}),
        ...(entry.check.inspectorCode === badge && inspector !== null ? { inspectorCode: inspector } : {}),
      },
      state: "waiting",
      refusal: null,
    };
  const batch = refusal?.code === "wrong-batch" ? refusal.details.batch : undefined;
  const why = reason.trim() === "" ? {} : { reason: `${origin(entry)}${reason.trim()}`.slice(0, 500) };
  return {
    ...entry,
    inspection: {
      ...entry.inspection,
      ...fresh,
      ...stands,
      ...why,
      ...(isClock ? { clockSkewMs: Math.round(skewMs) } : {}),
      ...withCode(entry.inspection, badge, inspector),
      ...(typeof batch === "string" ? { batch } : {}),
    },
    state: "waiting",
    refusal: null,
  };
}
