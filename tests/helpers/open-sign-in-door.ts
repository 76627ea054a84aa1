import pg from "pg";
import { beforeAll, inject } from "vitest";

/** The files of the browser tests sign in from one address, together more often than people would: each begins uncounted. */
beforeAll(async () => {
  const client = new pg.Client({ connectionString: inject("appDatabase") });
  await client.connect();
  await client.query("delete from auth_rate_limit");
  await client.end();
});
