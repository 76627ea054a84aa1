import pg from "pg";
import { getPool } from "@/lib/server/db/client";
import { forgetWorker, holdWorker, registerWorker } from "@/lib/server/jobs/workers";

/** A worker that lives and does nothing, on the database of the test: health is well with it. */
export type TestWorker = { readonly id: number; readonly end: () => Promise<void> };

export async function livingWorker(): Promise<TestWorker> {
  const id = await registerWorker(getPool(), "a test", "test");
  const client = new pg.Client({ connectionString: process.env.DATABASE_URL });
  await client.connect();
  if (!(await holdWorker(client, id))) throw new Error("the lock of a new worker is free");
  return {
    id,
    end: async () => {
      await client.end();
      await forgetWorker(id);
    },
  };
}
