// Writes the computing thread's program as one file beside the built application, so that a thread made anew is there at once.
import path from "node:path";
import { pathToFileURL } from "node:url";
import { ROOT } from "./root.mjs";

const COMPUTING_PROGRAM = path.join(ROOT, ".next/computing.mjs");

export async function bundleComputing() {
  // Not at the top: the start command loads this file before it has installed anything.
  const { build } = await import("esbuild");
  await build({
    entryPoints: [path.join(ROOT, "lib/server/compute/answer-task.ts")],
    outfile: COMPUTING_PROGRAM,
    bundle: true,
    platform: "node",
    format: "esm",
    target: "node20",
    conditions: ["react-server"],
    tsconfig: path.join(ROOT, "tsconfig.json"),
    // Some packages are CommonJS and call require.
    banner: { js: 'import { createRequire } from "node:module"; const require = createRequire(import.meta.url);' },
    logLevel: "warning",
  });
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) await bundleComputing();
