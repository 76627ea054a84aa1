import "server-only";
import type pg from "pg";
import { formatMoment } from "@/lib/format/date-text";
import { mailText, type MailText } from "@/lib/format/message-mail";
import { environment } from "../base/env";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

const FOOT =
  "You get this by a subscription of your role or of yours; an administrator changes it in Setup, Messages. Answers to this mail reach nobody.";

export type ToMail = {
  readonly title: string;
  readonly happened: string;
  readonly todo: string;
  readonly path: string;
  readonly at: Date;
};

export type PlantNamed = { readonly name: string; readonly zone: string };

const named = plantColumns("r", { name: "name", zone: "timeZone" });

export async function readPlantNamed(db: pg.ClientBase | pg.Pool, plantId: string): Promise<PlantNamed> {
  const { rows } = await db.query<RowOf<typeof named>>(sql`select ${named} from plant r where r.id = ${plantId}`);
  return rows[0] ?? { name: "", zone: "UTC" };
}

/** The mail that tells of some messages of a plant, with addresses that lead to it. */
export function composeMail({ name, zone }: PlantNamed, messages: readonly ToMail[]): MailText {
  const origin = environment("SHELLGATE_ORIGIN");
  const told = messages.map(({ path, at, ...words }) => ({
    ...words,
    address: new URL(path, origin).href,
    when: formatMoment(at, { zone }),
  }));
  return mailText(name, told, FOOT);
}
