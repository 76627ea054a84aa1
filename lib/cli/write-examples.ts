// Writes the example measurement files again, byte by byte the same: node lib/cli/run.mjs lib/cli/write-examples.ts
import { mkdirSync, writeFileSync } from "node:fs";
import path from "node:path";
import { EXAMPLE_FILES, exampleFileText } from "@/lib/simulation/example-files";

const folder = path.resolve(import.meta.dirname, "../../public/examples");
mkdirSync(folder, { recursive: true });
for (const { file, exitCode, story } of EXAMPLE_FILES) {
  writeFileSync(path.join(folder, file), exampleFileText(file));
  process.stdout.write(`${file}: exit code ${exitCode}. ${story}\n`);
}
