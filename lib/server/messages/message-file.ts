import "server-only";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { authUserColumns } from "../db/columns/auth-user";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { composeMail, readPlantNamed } from "./compose-mail";
import { getMessage } from "./inbox";
import { mailFile } from "./mail-transport";
import { readMessageSettings } from "./read-settings";

/** Where no mail server says who sends: a name that no mailbox can have (RFC 2606). */
const NO_SENDER = "shellgate@plant.invalid";

const mailbox = authUserColumns("u", { address: "email" });

/**
 * One message of the viewer's as a file that mail programs open, made out to the viewer.
 *
 * @throws AppError forbidden; not-found where it is for others
 */
export async function messageFile(viewer: Viewer, id: string): Promise<Buffer> {
  const message = await getMessage(viewer, id);
  const { plantId } = viewer;
  const plant = await readPlantNamed(getPool(), plantId);
  const { mail } = await readMessageSettings(getPool(), plantId);
  const { rows } = await getPool().query<RowOf<typeof mailbox>>(sql`
    select ${mailbox} from person p join auth_user u on u.id = p.user_id
    where p.plant_id = ${plantId} and p.id = ${viewer.kind === "person" ? viewer.personId : null}`);
  const from = mail?.from ?? NO_SENDER;
  return mailFile({
    ...composeMail(plant, [{ ...message, at: new Date(message.latestAt) }]),
    messageId: `<${id}@${from.slice(from.lastIndexOf("@") + 1)}>`,
    to: { name: viewer.name, address: rows[0]?.address ?? NO_SENDER },
    from: { name: `Shellgate ${plant.name}`, address: from },
    at: new Date(message.latestAt),
  });
}
