import "server-only";
import { createHash } from "node:crypto";
import { AppError } from "@/lib/errors";
import { PHOTO_MAX_BYTES, type KeepPhoto } from "@/lib/schemas/photo";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { attachmentColumns } from "../db/columns/attachment";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { assertTokenDevice } from "../auth/device-tie";
import { rowHash } from "../journal/vouched-rows";
import { bareJpeg } from "./bare-jpeg";
import { ATTACHMENTS_WORDS } from "./words";

const words = ATTACHMENTS_WORDS.commands;

const KEPT = "Nothing was stored; the photo is still on the device.";
const photographed = together(
  inspectionColumns("i", ["frameId"]),
  frameColumns("f", ["serial"]),
  lineColumns("l", { line: "key" }),
);
const stored = attachmentColumns("attachment", { hash: "contentHash" });

/** The picture without what a camera or a program wrote beside it. */
function checkedBytes(input: KeepPhoto): Buffer {
  const bytes = Buffer.from(input.jpeg, "base64");
  const wrong = (message: string) =>
    new AppError("invalid-input", `${message} ${KEPT}`, { fields: [{ path: "jpeg", message }] });
  if (bytes.length > PHOTO_MAX_BYTES) throw wrong(`The photo must have at most ${PHOTO_MAX_BYTES / 1e6} MB.`);
  const bare = bareJpeg(bytes);
  if (bare === null) throw wrong("The photo must be a JPEG file.");
  return bare;
}

export type PhotoKept = { readonly id: string; readonly status: "recorded" | "repeated" };

/**
 * Keeps a photo with its inspection: the bytes of the picture alone, their hash, and an entry in the journal of the line.
 *
 * @throws AppError forbidden, invalid-input, not-found (the inspection is not here yet), already-recorded-differently
 */
export async function keepPhoto(viewer: Viewer, input: KeepPhoto, now: Date = new Date()): Promise<PhotoKept> {
  assertMay(viewer, "line.inspect");
  assertTokenDevice(viewer, undefined);
  const { plantId } = viewer;
  const bytes = checkedBytes(input);
  const hash = createHash("sha256").update(bytes).digest();
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query<RowOf<typeof photographed>>(sql`
      select ${photographed} from inspection i
      join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      join line l on l.plant_id = i.plant_id and l.id = i.line_id
      where i.plant_id = ${plantId} and i.id = ${input.inspectionId}`);
    const inspection = rows[0];
    if (!inspection) throw new AppError("not-found", words.inspectionOfPhoto);
    const chain = `line:${inspection.line}`;
    const head = await lockChain(db, plantId, chain);
    const known = await db.query<RowOf<typeof stored>>(sql`
      select ${stored} from attachment where plant_id = ${plantId} and id = ${input.id}`);
    const before = known.rows[0];
    if (before !== undefined && !before.hash.equals(hash))
      throw new AppError("already-recorded-differently", words.anotherPhotoWithKey(input.id));
    if (before !== undefined) return { id: input.id, status: "repeated" as const };
    const row = {
      plant_id: plantId,
      id: input.id,
      inspection_id: input.inspectionId,
      frame_id: inspection.frameId,
      name: `${inspection.serial}.jpg`,
      media_type: "image/jpeg",
      content_hash: hash,
      person_id: viewer.kind === "person" ? viewer.personId : null,
      at: now,
    };
    await db.query(sql`
      insert into attachment (plant_id, id, inspection_id, frame_id, name, media_type, bytes, content_hash, person_id, at)
      values (${plantId}, ${row.id}, ${row.inspection_id}, ${row.frame_id}, ${row.name}, ${row.media_type}, ${bytes}, ${hash},
        ${row.person_id}, ${now})`);
    await appendToLockedChain(db, head, {
      plantId,
      chain,
      at: now,
      actor: actorOf(viewer),
      action: "photo.kept",
      subjects: [{ table: "attachment", id: row.id, hash: rowHash("attachment", row) }],
      payload: { serial: inspection.serial, inspection: input.inspectionId, bytes: bytes.length },
    });
    return { id: input.id, status: "recorded" as const };
  });
}
