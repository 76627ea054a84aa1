import { existsSync, rmSync, writeFileSync } from "node:fs";
import path from "node:path";
import pg from "pg";
import { AppError } from "@/lib/errors";
import type { Children } from "./children";
import { unfinishedDemoMark } from "./database-step";

/** What is in the database: nothing yet, a real plant, or one with invented people and numbers. */
export type PlantState = "none" | "real" | "invented";

export async function readPlantState(url: string): Promise<PlantState> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    const { rows } = await client.query<{ invented: boolean }>(
      "select invented from plant order by created_at limit 1",
    );
    const first = rows[0];
    if (first === undefined) return "none";
    return first.invented ? "invented" : "real";
  } finally {
    await client.end();
  }
}

async function runLoader(root: string, children: Children, env: NodeJS.ProcessEnv): Promise<void> {
  const child = children.start([path.join(root, "lib/cli/run.mjs"), "lib/cli/load-demo.ts"], {
    cwd: root,
    env,
    stdio: ["ignore", "inherit", "inherit"],
  });
  const [code, signal] = await new Promise<readonly [number | null, NodeJS.Signals | null]>((resolve, reject) => {
    child.once("error", reject);
    child.once("exit", (...result) => resolve(result));
  });
  if (code === 0) return;
  throw new AppError(
    "unavailable",
    `The demo plant could not be loaded (ended with ${signal ?? code}; see the lines above). Start again to try once more, or use --empty.`,
  );
}

/**
 * Loads the demo plant into a database without a plant. One that was once started empty stays so.
 *
 * @returns the state after it
 */
export async function ensurePlant(options: {
  readonly root: string;
  readonly folder: string;
  readonly url: string;
  /** Address for the owner of the tables, which the loader alone is given. */
  readonly ownerUrl: string;
  readonly empty: boolean;
  readonly children: Children;
  readonly env: NodeJS.ProcessEnv;
  readonly announce: () => void;
}): Promise<PlantState> {
  const { root, folder, url, ownerUrl, empty, children, env, announce } = options;
  const state = await readPlantState(url);
  if (state !== "none") return state;
  const startedEmpty = path.join(folder, "started-empty");
  if (empty) writeFileSync(startedEmpty, "");
  if (existsSync(startedEmpty) || !existsSync(path.join(root, "lib/cli/load-demo.ts"))) return "none";
  announce();
  writeFileSync(unfinishedDemoMark(folder), "");
  await runLoader(root, children, { ...env, DATABASE_OWNER_URL: ownerUrl });
  rmSync(unfinishedDemoMark(folder));
  return readPlantState(url);
}
