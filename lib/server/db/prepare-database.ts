import "server-only";
import { AppError } from "@/lib/errors";
import { grantToApplication } from "./grants";
import { migrate, MIGRATION_LOCK } from "./migrate";
import { readUnprotected } from "./protection";
import { withClient } from "./with-client";

/** Addresses of one database: for the owner of its tables, who migrates, and for the application. They may be the same. */
export type DatabaseAddresses = { readonly ownerUrl: string; readonly appUrl: string };

export type PreparedDatabase = {
  /** Names of the migrations that were applied now. */
  readonly applied: readonly string[];
  /** What the application's role could do past the triggers, in words; empty where it owns nothing. */
  readonly unprotected: readonly string[];
};

const problem = (sentence: string, cause?: unknown): AppError => new AppError("unavailable", sentence, { cause });

type Me = { readonly role: string };
const WHO = "select current_user as role";

async function grant({ ownerUrl }: DatabaseAddresses, app: Me): Promise<void> {
  await withClient(ownerUrl, "DATABASE_OWNER_URL", async (client) => {
    const { rows } = await client.query<Me>(WHO);
    if (rows[0]?.role === app.role) return;
    await client.query("select pg_advisory_lock($1)", [MIGRATION_LOCK]);
    try {
      await grantToApplication(client, app.role);
    } catch (error) {
      throw notTheOwner(error);
    }
  });
}

const notTheOwner = (error: unknown): AppError => {
  const why = error instanceof Error ? error.message : String(error);
  return problem(
    `The database role that migrates has to own the tables: ${why}. Nothing was changed; set DATABASE_OWNER_URL to the address of the role that owns them.`,
    error,
  );
};

const INSUFFICIENT_PRIVILEGE = "42501";
const isRefused = (error: unknown): boolean =>
  error instanceof Error && "code" in error && error.code === INSUFFICIENT_PRIVILEGE;

/**
 * Brings a database to the newest migration as the owner, and gives the application's role what it needs on every table,
 * new ones included. Changes nothing where nothing is missing.
 *
 * @throws AppError unavailable: not reachable, a migration that fails, an owner that owns nothing, or two databases
 */
export async function prepareDatabase(addresses: DatabaseAddresses): Promise<PreparedDatabase> {
  const { ownerUrl, appUrl } = addresses;
  const applied = await migrate(ownerUrl).catch((error: unknown) => {
    throw isRefused(error) ? notTheOwner(error) : error;
  });
  return withClient(appUrl, "DATABASE_URL", async (client) => {
    const { rows } = await client.query<Me>(WHO);
    const app = rows[0];
    if (app === undefined) throw problem("The database does not say which role the application has.");
    if (ownerUrl !== appUrl) await grant(addresses, app);
    const { rows: seen } = await client.query<{ usable: boolean | null }>(
      "select has_table_privilege(to_regclass('public.plant'), 'INSERT') as usable",
    );
    if (seen[0]?.usable !== true) {
      throw problem(
        "DATABASE_URL and DATABASE_OWNER_URL lead to different databases, or the role of DATABASE_URL may not use the tables. Nothing was started.",
      );
    }
    return { applied, unprotected: await readUnprotected(client) };
  });
}
