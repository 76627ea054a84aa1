import { uuidV7 } from "@/lib/schemas/identifier";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import { type ClockSkew, isSetBack } from "./device/clock-skew";
import type { DeviceCore } from "./device/device-core";
import {
  type DeviceDatabase,
  isCheck,
  isInspection,
  listOutbox,
  listPhotos,
  listSent,
  listSentChecks,
  listSessions,
  readKept,
  toSend,
  writeKept,
} from "./device/device-database";
import type { OwnFirstOff } from "./device/first-off";
import type { KeyingSession } from "./device/keying-session";
import { type DeviceSettings, FIRST_SETTINGS, type LineState } from "./device/line-state";
import { withOwnWork } from "./device/own-work";
import { readShown } from "./verdict/shown-verdict";
import type { GaugeUse } from "./device/zero-check";

async function readAllKept(database: DeviceDatabase, now: number) {
  const [
    settings,
    kit,
    kitAt,
    plans,
    current,
    inspector,
    skew,
    gaugeUse,
    accepted,
    ownFirstOff,
    directions,
    deviceName,
  ] = await Promise.all([
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
    readKept<LineState["directions"]>(database, "directions"),
    readKept<string>(database, "deviceName"),
  ]);
  return {
    settings,
    kit,
    kitAt,
    current,
    inspector,
    skew: skew === null || isSetBack(skew, now) ? null : skew,
    ownFirstOff,
    directions,
    deviceName,
    plans: plans ?? {},
    gaugeUse: gaugeUse ?? {},
    acceptedGauges: accepted ?? {},
  };
}

/** Reads what the device remembers; gives the frame that was in hand. */
export async function openKept(core: DeviceCore): Promise<KeyingSession | null> {
  const database = core.database;
  let deviceId = await readKept<string>(database, "device");
  if (deviceId === null) {
    deviceId = `dev-${uuidV7(core.now()).slice(-12)}`;
    await writeKept(database, "device", deviceId);
  }
  const [kept, sessions, outbox, sent, sentChecks, photos] = await Promise.all([
    readAllKept(database, core.now()),
    listSessions(database),
    listOutbox(database),
    listSent(database),
    listSentChecks(database),
    listPhotos(database),
  ]);
  const { kit, current, settings, ...rest } = kept;
  const checks = outbox.filter(isCheck);
  const queue = outbox.filter(isInspection);
  const since = sent.filter(({ sentAt }) => sentAt > (kept.kitAt ?? 0));
  const session = sessions.find((one) => one.id === current) ?? null;
  const finished = session === null ? await readShown(core, rest.plans) : null;
  core.set({
    ...rest,
    deviceId,
    settings: { ...FIRST_SETTINGS, ...settings },
    kit: kit === null ? null : withOwnWork(kit, { queue, since, checks, sentChecks }),
    session,
    finished,
    aside: sessions.filter((one) => one.id !== session?.id),
    queue,
    sent,
    checks,
    sentChecks,
    photos: toSend(photos),
  });
  return session;
}
