import { execFileSync } from "node:child_process";
import { accessSync, constants } from "node:fs";
import path from "node:path";
import { runToEnd } from "./prepare.mjs";

const NAMES = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];
const PLACES = [
  "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
  "/Applications/Chromium.app/Contents/MacOS/Chromium",
];

function isExecutable(file) {
  try {
    accessSync(file, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

/** @returns the path of a Chromium, or null: CHROMIUM_PATH, else by its usual names */
export function findBrowser() {
  const named = process.env.CHROMIUM_PATH;
  const folders = (process.env.PATH ?? "").split(path.delimiter);
  const candidates = [
    ...(named === undefined ? [] : [named]),
    ...NAMES.flatMap((name) => folders.map((folder) => path.join(folder, name))),
    ...PLACES,
  ];
  return candidates.find(isExecutable) ?? null;
}

function hasApt() {
  try {
    execFileSync("apt-get", ["--version"], { stdio: "ignore" });
    return true;
  } catch {
    return false;
  }
}

const ADVICE = `No Chromium was found for the browser tests. Install one:
  Debian:  apt-get update && apt-get install -y chromium     (as root)
  Fedora:  dnf install chromium                              (as root)
  macOS:   brew install --cask chromium
or set CHROMIUM_PATH to the program of a Chromium or Chrome that you have.`;

/**
 * Finds a browser, or installs Debian's where that is possible.
 *
 * @throws Error that says what to install
 */
export async function ensureBrowser({ say = () => {} } = {}) {
  const found = findBrowser();
  if (found !== null) return found;
  if (process.getuid?.() !== 0 || !hasApt()) throw new Error(ADVICE);
  say("installing Chromium (apt-get install chromium)");
  const env = { ...process.env, DEBIAN_FRONTEND: "noninteractive" };
  try {
    await runToEnd("apt-get", ["update", "-q"], { quiet: true, env });
    await runToEnd("apt-get", ["install", "-y", "-q", "--no-install-recommends", "chromium"], { quiet: true, env });
  } catch (error) {
    throw new Error(`${ADVICE}\n${error.message}`, { cause: error });
  }
  const installed = findBrowser();
  if (installed === null) throw new Error(ADVICE);
  return installed;
}
