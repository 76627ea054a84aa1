import { uuidV7 } from "@/lib/schemas/identifier";
import type { DeviceCore } from "../device/device-core";
import {
  changeQueued,
  keepPhoto,
  listPhotos,
  listSessions,
  readKept,
  toSend,
  withoutPicture,
} from "../device/device-database";
import { inspectorCodeOf } from "../device/keying-plan";
import type { LineState } from "../device/line-state";
import { type Loaded, loadQueueFile, queueFileText, sentAgain } from "./queue-file";

/** Keeps a photo with the frame in hand, or with the one whose verdict is shown; it is sent after its inspection. */
export async function addPhoto(core: DeviceCore, jpeg: string): Promise<void> {
  const { session, finished } = core.getState();
  const of = session ?? finished?.inspection ?? null;
  if (of === null) return;
  const photo = {
    id: uuidV7(core.now()),
    inspectionId: of.id,
    serial: of.serial,
    jpeg,
    takenAt: core.now(),
    refusal: null,
  };
  await keepPhoto(core.database, photo);
  core.set({
    photos: [...core.getState().photos, withoutPicture(photo)],
    notice: { tone: "done", text: `The photo is kept with frame ${of.serial}.` },
  });
  core.queued();
}

export type Decision =
  { readonly kind: "aside" } | { readonly kind: "anew" } | { readonly kind: "again"; readonly reason: string };

/** A person decides about an inspection or a zero check that the server refused. */
export async function decideEntry(core: DeviceCore, order: number, decision: Decision): Promise<void> {
  const found = [...core.getState().queue, ...core.getState().checks].find((entry) => entry.order === order);
  if (!found) return;
  const { order: _order, ...entry } = found;
  const decided =
    decision.kind !== "again"
      ? { ...entry, state: decision.kind === "aside" ? ("aside" as const) : ("refused" as const) }
      : sentAgain(entry, decision.reason, {
          now: core.now(),
          deviceId: core.getState().deviceId,
          skewMs: core.skewNow(),
          inspector: inspectorCodeOf(core.getState()),
        });
  await changeQueued(core.database, order, decided);
  await core.readOutbox();
  if (decision.kind === "again") core.queued();
}

/** Takes the queue of a file in, whatever is here already by its key left out. */
export async function loadQueue(core: DeviceCore, text: string): Promise<void> {
  const loaded = await loadQueueFile(core.database, text, core.getState().gaugeUse);
  if (loaded === null) {
    core.set({ notice: { tone: "error", text: "This is not a queue saved by Line. Nothing was loaded." } });
    return;
  }
  const [sessions, photos, plans] = await Promise.all([
    listSessions(core.database),
    listPhotos(core.database),
    readKept<LineState["plans"]>(core.database, "plans"),
  ]);
  const { session } = core.getState();
  await core.readOutbox();
  core.set({
    photos: toSend(photos),
    aside: sessions.filter((one) => one.id !== session?.id),
    plans: plans ?? core.getState().plans,
    notice: { tone: loaded.damaged > 0 ? "error" : "done", text: loadedText(loaded) },
  });
  core.queued();
}

function loadedText({ taken, inFile, damaged }: Loaded): string {
  const others = inFile - taken - damaged;
  const why = [
    ...(damaged > 0
      ? [`${damaged} not whole and left out: keep the file, and call whoever looks after Shellgate`]
      : []),
    ...(others > 0 ? [damaged > 0 ? `${others} here already` : "the others were here already"] : []),
  ];
  return [`${taken} of ${inFile} in the file were loaded`, ...why].join("; ") + ".";
}

/** Everything that is only on this device, as text for a file. */
export function saveQueue(core: DeviceCore): Promise<string> {
  return queueFileText(core.database, core.getState().deviceId, core.now());
}
