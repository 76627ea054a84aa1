import "server-only";
import { AppError } from "@/lib/errors";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { attachmentColumns } from "../db/columns/attachment";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { ATTACHMENTS_WORDS } from "./words";

const words = ATTACHMENTS_WORDS.queries;

export type AttachmentFile = {
  readonly name: string;
  readonly mediaType: string;
  readonly bytes: Uint8Array<ArrayBuffer>;
};

const file = attachmentColumns("attachment", ["name", "mediaType", "bytes"]);

/** The bytes of one attachment. @throws AppError forbidden, not-found */
export async function getAttachment(viewer: Viewer, id: string): Promise<AttachmentFile> {
  assertMay(viewer, "records.view");
  const { rows } = await getPool().query<RowOf<typeof file>>(sql`
    select ${file} from attachment where plant_id = ${viewer.plantId} and id = ${id}`);
  const found = rows[0];
  if (!found) throw new AppError("not-found", words.isNoSuchAttachment);
  return { ...found, bytes: new Uint8Array(found.bytes) };
}
