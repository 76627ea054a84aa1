import { chmodSync, mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import type { TestProject } from "vitest/node";
import pg from "pg";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";

declare module "vitest" {
  interface ProvidedContext {
    /** Address of the test server's own database for the owner, who creates others from it. */
    databaseServer: string;
    /** The same for the role that the application runs as. */
    applicationServer: string;
  }
}

export const TEMPLATE_DATABASE = "shellgate_template";

/** One server for all test files, with one migrated database that each file clones, grants included. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-test-"));
  chmodSync(folder, 0o711);
  const server = await startEmbedded({ folder, forTests: true });
  const stop = async (): Promise<void> => {
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  };
  try {
    const client = new pg.Client({ connectionString: server.url("postgres") });
    await client.connect();
    await client.query(`create database ${TEMPLATE_DATABASE}`);
    await client.end();
    await prepareDatabase({ ownerUrl: server.url(TEMPLATE_DATABASE), appUrl: server.appUrl(TEMPLATE_DATABASE) });
    project.provide("databaseServer", server.url("postgres"));
    project.provide("applicationServer", server.appUrl("postgres"));
  } catch (error) {
    await stop();
    throw error;
  }
  return stop;
}
