import { createInterface } from "node:readline";
import { SCHEMA_FILE } from "@/lib/cli/compare-schema";
import { withEngine } from "@/lib/cli/schema-engine";

/**
 * Stands where the Prisma command line looks for its native program, which would have to be downloaded: the same engine as
 * WebAssembly, spoken to line by line in JSON-RPC as the command line speaks (prisma 7, class SchemaEngineCLI).
 */
type Call = { readonly id: number; readonly method: string; readonly params?: unknown };
type Methods = Record<string, (params: unknown) => Promise<unknown>>;

const url = (JSON.parse(process.argv[process.argv.indexOf("--datasource") + 1] ?? "{}") as { url: string }).url;

async function answer(methods: Methods, { id, method, params }: Call): Promise<void> {
  const name = method === "getDatabaseVersion" ? "version" : method;
  const outcome = await Promise.resolve(methods[name]?.(params)).then(
    (result) => ({ result: result ?? {} }),
    (error: Error) => ({
      error: { code: 4466, message: error.message, data: { message: error.message, is_panic: false } },
    }),
  );
  process.stdout.write(`${JSON.stringify({ jsonrpc: "2.0", id, ...outcome })}\n`);
}

// "cli can-connect-to-database" is answered by ending well.
if (!process.argv.includes("cli")) {
  await withEngine(url, SCHEMA_FILE, async (engine) => {
    const methods = Object.fromEntries(
      ["version", "diagnoseMigrationHistory", "applyMigrations"].map((name) => [
        name,
        (params: unknown) => (engine as unknown as Methods)[name]?.call(engine, params),
      ]),
    ) as Methods;
    for await (const line of createInterface({ input: process.stdin })) await answer(methods, JSON.parse(line) as Call);
  });
}
