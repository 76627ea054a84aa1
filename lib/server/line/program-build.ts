import "server-only";
import { readFileSync } from "node:fs";
import path from "node:path";
import { environment } from "../base/env";

let known: string | null | undefined;

/**
 * Which build of the program runs: what a station's device caches goes by it. Null in development, where nothing is built
 * and nothing shall be cached.
 */
export function programBuild(): string | null {
  if (environment("NODE_ENV") !== "production") return null;
  if (known === undefined) {
    try {
      const file = path.join(/* turbopackIgnore: true */ process.cwd(), ".next", "BUILD_ID");
      known = readFileSync(file, "utf8").trim() || null;
    } catch {
      known = null;
    }
  }
  return known;
}
