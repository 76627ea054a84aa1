import { readdirSync, readFileSync } from "node:fs";
import path from "node:path";

export const ROOT = path.resolve(import.meta.dirname, "../..");

/** One source file: its path from the root and its text. Rules take these, so that a broken sample needs no file. */
export type SourceFile = { readonly path: string; readonly text: string };

export type Import = {
  /** As written. */
  readonly specifier: string;
  /** From the root without its ending, for files of the project; null for packages. */
  readonly target: string | null;
  readonly typeOnly: boolean;
};

const SKIPPED = new Set(["node_modules", ".next", ".data", ".git", "generated"]);
const STATEMENT = /(?:^|\n)\s*(?:import|export)\s+(type\s+)?(?:[^"';]*?\s+from\s+)?["']([^"']+)["']/g;
const DYNAMIC = /\bimport\(\s*["']([^"']+)["']\s*\)/g;

const PROGRAM = /\.(ts|tsx|mjs)$/;

function walk(folder: string, ending: RegExp, found: string[]): string[] {
  for (const entry of readdirSync(path.join(ROOT, folder), { withFileTypes: true })) {
    if (SKIPPED.has(entry.name)) continue;
    const at = folder === "" ? entry.name : `${folder}/${entry.name}`;
    if (entry.isDirectory()) walk(at, ending, found);
    else if (ending.test(entry.name) && !entry.name.endsWith(".d.ts")) found.push(at);
  }
  return found;
}

const readFiles = (folders: readonly string[], ending: RegExp): SourceFile[] =>
  folders
    .flatMap((folder) => walk(folder, ending, []))
    .map((file) => ({ path: file, text: readFileSync(path.join(ROOT, file), "utf8") }));

export const readSourceFiles = (...folders: readonly string[]): SourceFile[] => readFiles(folders, PROGRAM);

export const readStyleSheets = (...folders: readonly string[]): SourceFile[] => readFiles(folders, /\.css$/);

/** What a file imports; `import type` counts. */
export function importsOf(file: SourceFile): Import[] {
  const resolve = (specifier: string): string | null => {
    const target = specifier.startsWith("@/")
      ? specifier.slice(2)
      : specifier.startsWith(".")
        ? path.posix.join(path.posix.dirname(file.path), specifier)
        : null;
    return target === null ? null : target.replace(/\.(ts|tsx|mjs|css|json)$/, "");
  };
  return [
    ...[...file.text.matchAll(STATEMENT)].map((match) => ({
      specifier: match[2] ?? "",
      target: resolve(match[2] ?? ""),
      typeOnly: match[1] !== undefined,
    })),
    ...[...file.text.matchAll(DYNAMIC)].map((match) => ({
      specifier: match[1] ?? "",
      target: resolve(match[1] ?? ""),
      typeOnly: false,
    })),
  ];
}

export const isClientFile = (file: SourceFile): boolean => /^\s*["']use client["']/.test(file.text);
