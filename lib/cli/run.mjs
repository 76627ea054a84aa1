// Runs a TypeScript command of this folder: node lib/cli/run.mjs lib/cli/check.ts ARGUMENTS...
import { existsSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { ensureDependencies } from "./prepare.mjs";
import { ROOT } from "./root.mjs";
import { enableTypeScript } from "./typescript.mjs";

const script = process.argv[2];
const file = script === undefined ? undefined : path.resolve(ROOT, script);
if (file === undefined || !existsSync(file)) {
  process.stderr.write(`There is no command ${script ?? "given"}. Use: node lib/cli/run.mjs lib/cli/NAME.ts\n`);
  process.exit(1);
}

await ensureDependencies({ onlyWhenMissing: true });
await enableTypeScript();
// The command finds its own name and arguments where they would be without this file.
process.argv.splice(1, 2, file);
await import(pathToFileURL(file).href);
