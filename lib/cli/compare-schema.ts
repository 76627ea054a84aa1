import { readFileSync } from "node:fs";
import path from "node:path";
import type { DiffTarget } from "@prisma/schema-engine-wasm";
import { withEngine } from "./schema-engine";

export const SCHEMA_FILE = path.resolve(import.meta.dirname, "../../prisma/schema.prisma");
const NO_FILTERS = { externalTables: [], externalEnums: [] };

const schemaTarget = (file: string): DiffTarget => ({
  tag: "schemaDatamodel",
  files: [{ path: file, content: readFileSync(file, "utf8") }],
});

/** Reads what is in a database as Prisma sees it: the schema file that would describe it. */
async function introspect(url: string, schemaFile: string): Promise<string> {
  const header =
    readFileSync(schemaFile, "utf8")
      .match(/(generator|datasource)\s+\w+\s*\{[^}]*\}/g)
      ?.join("\n\n") ?? "";
  const result = await withEngine(url, schemaFile, (engine) =>
    engine.introspect({
      schema: { files: [{ path: schemaFile, content: header }] },
      baseDirectoryPath: path.dirname(schemaFile),
      force: true,
      compositeTypeDepth: -1,
      namespaces: null,
    }),
  );
  return result.schema.files.map((file) => file.content).join("\n");
}

/**
 * The SQL that would turn a database into what schema.prisma says: empty when the two agree. Constraints and triggers
 * that Prisma cannot describe (CHECK, functions) are not compared.
 */
export async function diffDatabaseAgainstSchema(url: string, schemaFile = SCHEMA_FILE): Promise<string> {
  const found = await introspect(url, schemaFile);
  const from: DiffTarget = {
    tag: "schemaDatamodel",
    files: [{ path: schemaFile, content: found }],
  };
  return diff(url, from, schemaTarget(schemaFile), schemaFile);
}

async function diff(url: string, from: DiffTarget, to: DiffTarget, schemaFile: string): Promise<string> {
  const params = { from, to, script: true, exitCode: null, filters: NO_FILTERS };
  const { stdout } = await withEngine(url, schemaFile, (engine) => engine.diff(params));
  const script = stdout ?? "";
  return /^\s*-- This is an empty migration\.?\s*$/.test(script) ? "" : script;
}
