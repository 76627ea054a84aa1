import { getPool } from "../server/db/client";
import { plantColumns } from "../server/db/columns/plant";
import type { RowOf } from "../server/db/columns/table-columns";
import { sql } from "../server/db/sql";
import { verifyJournal } from "../server/journal/verify-journal";
import { readArguments } from "./read-arguments";
import { withDatabase } from "./with-database";

const USAGE = `npm run verify-journal [-- --anchor HASH] [--data DIR]

Re-hashes every entry of the journal and every row it vouches for, and names what was altered, removed or put elsewhere.
--anchor HASH   an anchor that you kept outside: only so can a cut tail be seen
Exit code 0: nothing found; 2: something is not as it was written; 1: it could not be checked.`;

const { values } = readArguments(USAGE, {
  options: { anchor: { type: "string" }, data: { type: "string" }, help: { type: "boolean", short: "h" } },
});

const listed = plantColumns("plant", ["id", "name"]);

async function verifyAll(): Promise<number> {
  const { rows: plants } = await getPool().query<RowOf<typeof listed>>(sql`select ${listed} from plant order by name`);
  let faults = 0;
  for (const plant of plants) {
    const report = await verifyJournal(plant.id, {
      ...(values.anchor === undefined ? {} : { anchor: values.anchor }),
      onProgress: (entries) => {
        if (process.stderr.isTTY) process.stderr.write(`\r${plant.name}: ${entries} entries`);
      },
    });
    if (process.stderr.isTTY) process.stderr.write("\r\u001b[K");
    process.stdout.write(
      `${plant.name}: ${report.entries} entries in ${report.chains} chains vouch for ${report.rows} rows; newest anchor ${report.head ?? "none yet"}\n`,
    );
    for (const fault of report.faults)
      process.stdout.write(
        `  chain ${fault.chain}${fault.sequence === null ? "" : `, entry ${fault.sequence}`}: ${fault.what}\n`,
      );
    process.stdout.write(
      report.faults.length === 0
        ? "  Nothing was altered, removed or put elsewhere.\n"
        : `  ${report.faults.length} faults.\n`,
    );
    faults += report.faults.length;
  }
  if (plants.length === 0) process.stdout.write("There is no plant yet, so there is no journal.\n");
  return faults === 0 ? 0 : 2;
}

async function main(): Promise<number> {
  if (values.help) {
    process.stdout.write(`${USAGE}\n`);
    return 0;
  }
  return withDatabase(verifyAll, values.data);
}

main().then(
  (code) => {
    process.exitCode = code;
  },
  (error: unknown) => {
    process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
    process.exitCode = 1;
  },
);
