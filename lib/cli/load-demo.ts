import { createDemoPlan } from "@/lib/simulation/demo-plan";
import { closeConnections } from "@/lib/server/db/client";
import { withClient } from "@/lib/server/db/with-client";
import { loadDemoPlant } from "@/lib/server/demo/load-demo-plant";

/**
 * Loads the demonstration plant into the empty database of DATABASE_URL, as the application. Called by the start command,
 * which gives the owner's address in DATABASE_OWNER_URL.
 */
const SEED = 41;
const TOLD_EVERY_MS = 1000;

let toldAt = 0;
function tell(step: string, done: number, of: number): void {
  const now = Date.now();
  if (done < of && now - toldAt < TOLD_EVERY_MS) return;
  toldAt = now;
  process.stdout.write(`  demo plant: ${done} of ${of} ${step}\n`);
}

async function analyse(tables: readonly string[]): Promise<void> {
  const address = process.env.DATABASE_OWNER_URL ?? process.env.DATABASE_URL ?? "";
  await withClient(address, "DATABASE_OWNER_URL", (client) => client.query(`analyze ${tables.join(", ")}`));
}

try {
  await loadDemoPlant(createDemoPlan(SEED, Date.now()), tell, analyse);
} catch (error) {
  process.stderr.write(
    `The demo plant could not be written: ${error instanceof Error ? error.message : String(error)}\n`,
  );
  process.exitCode = 1;
} finally {
  await closeConnections();
}
