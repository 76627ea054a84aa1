import { migrate } from "@/lib/server/db/migrate";

// A process that can be killed: node lib/cli/run.mjs tests/helpers/migrate-folder.ts URL FOLDER
const [url = "", folder = ""] = process.argv.slice(2);
process.stdout.write(`${JSON.stringify(await migrate(url, folder))}\n`);
