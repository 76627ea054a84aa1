// Runs a TypeScript command of this folder: node lib/cli/run.mjs lib/cli/check.ts ARGUMENTS...
import { existsSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { bundledCommand } from "./bundled.mjs";
import { ensureDependencies } from "./prepare.mjs";
import { ROOT } from "./root.mjs";
import { enableTypeScript } from "./typescript.mjs";

/** Commands that people and programs call again and again. */
const BUNDLED = new Set(
  ["check.ts", "verify-journal.ts", "worker.ts", "backup.ts", "restore.ts", "doctor.ts"].map((name) =>
    path.join("lib/cli", name),
  ),
);

const script = process.argv[2];
const file = script === undefined ? undefined : path.resolve(ROOT, script);
if (file === undefined || !existsSync(file)) {
  process.stderr.write(`There is no command ${script ?? "given"}. Use: node lib/cli/run.mjs lib/cli/NAME.ts\n`);
  process.exit(1);
}

await ensureDependencies({ onlyWhenMissing: true });
const bundle = BUNDLED.has(path.relative(ROOT, file)) ? await bundledCommand(file) : null;
// A stack names the lines of the sources either way.
if (bundle === null) await enableTypeScript();
else process.setSourceMapsEnabled(true);
// The command finds its own name and arguments where they would be without this file.
process.argv.splice(1, 2, file);
await import(pathToFileURL(bundle ?? file).href);
