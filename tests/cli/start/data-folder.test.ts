import { spawn } from "node:child_process";
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import os from "node:os";
import path from "node:path";
import { afterAll, afterEach, beforeEach, describe, expect, test, vi } from "vitest";
import { claimDataFolder, dataFolder, ensureAuthSecret, findUserOf, prepareDataFolder } from "@/lib/cli/data-folder";
import { runStart } from "@/tests/helpers/running-start";

const base = mkdtempSync(path.join(os.tmpdir(), "shellgate folder "));
let folder = "";
let number = 0;

beforeEach(() => {
  number += 1;
  folder = path.join(base, `plant ${number}`);
});
afterAll(() => rmSync(base, { recursive: true, force: true }));

describe("prepareDataFolder", () => {
  test("makes a folder that only its owner can read", () => {
    prepareDataFolder(folder, 1);
    expect(statSync(folder).mode & 0o777).toBe(0o700);
    expect(readdirSync(folder)).toEqual([]);
  });

  test("says how much room is missing and leaves nothing in a full folder", () => {
    expect(() => prepareDataFolder(folder, Number.MAX_SAFE_INTEGER)).toThrow(
      /^The disk of .* has \d+ MB left and Shellgate needs 8589934591 MB\. Nothing was changed; make room/,
    );
    expect(readdirSync(folder)).toEqual([]);
  });

  test("says that a part of the path is a file", () => {
    writeFileSync(folder, "a file");
    expect(() => prepareDataFolder(path.join(folder, "below"))).toThrow(/cannot be used: a file is in its path/);
    expect(() => prepareDataFolder(folder)).toThrow(/cannot be used: a file is in its path/);
    expect(readFileSync(folder, "utf8")).toBe("a file");
  });

  test("the start command says in one sentence that it may not write, and changes nothing", async () => {
    mkdirSync(folder);
    chmodSync(folder, 0o555);
    chmodSync(base, 0o755);
    // Root may write everywhere, so for root the command runs as nobody.
    const asRoot = process.getuid?.() === 0;
    const start = runStart({ args: ["--data", folder], ...(asRoot ? { uid: 65534, gid: 65534 } : {}) });
    expect(await start.ended).toBe(1);
    expect(start.output()).toContain(
      `The data folder ${folder} cannot be used: you have no permission to write there. Give another folder with --data.`,
    );
    expect(start.output()).not.toMatch(/\n\s+at /);
    expect(readdirSync(folder)).toEqual([]);
  });
});

describe("dataFolder", () => {
  afterEach(() => vi.unstubAllEnvs());

  test("is what was given from where the person is, else SHELLGATE_DATA, else .data of the project", () => {
    vi.stubEnv("INIT_CWD", "/somewhere");
    vi.stubEnv("SHELLGATE_DATA", "kept");
    expect(dataFolder(base, "plant")).toBe("/somewhere/plant");
    expect(dataFolder(base)).toBe(path.join(base, "kept"));
    vi.stubEnv("SHELLGATE_DATA", "");
    chmodSync(base, 0o755);
    expect(dataFolder(base)).toBe(path.join(base, ".data"));
  });

  test("is a folder of the system where root has the project in a private folder", () => {
    vi.stubEnv("SHELLGATE_DATA", "");
    chmodSync(base, 0o700);
    const chosen = dataFolder(base);
    chmodSync(base, 0o755);
    const expected = process.getuid?.() === 0 ? /^\/var\/lib\/shellgate\/.*-[0-9a-f]{8}$/ : /\.data$/;
    expect(chosen).toMatch(expected);
  });
});

describe("claimDataFolder", () => {
  beforeEach(() => prepareDataFolder(folder, 1));

  test("refuses a folder that a living process uses, naming it, and gives it free when released", () => {
    const claim = claimDataFolder(folder, "npm start");
    claim.setAddress("http://localhost:3000");
    expect(() => claimDataFolder(folder, "npm start")).toThrow(
      `is in use by another Shellgate (npm start, process ${process.pid}, http://localhost:3000). Stop that one`,
    );
    expect(findUserOf(folder)?.address).toBe("http://localhost:3000");
    claim.release();
    expect(findUserOf(folder)).toBeNull();
    claimDataFolder(folder, "npm start").release();
  });

  test("takes over from a process that has died, or whose number another one has now", async () => {
    const child = spawn(process.execPath, ["-e", ""]);
    await new Promise((resolve) => child.once("exit", resolve));
    const file = path.join(folder, "in-use.json");
    writeFileSync(file, JSON.stringify({ pid: child.pid, mark: "1", purpose: "npm start", address: "" }));
    claimDataFolder(folder, "npm start").release();
    writeFileSync(file, JSON.stringify({ pid: process.pid, mark: "not this one", purpose: "npm start", address: "" }));
    claimDataFolder(folder, "npm start").release();
    expect(existsSync(file)).toBe(false);
  });

  test("takes over what a crash left empty", () => {
    writeFileSync(path.join(folder, "in-use.json"), "");
    const claim = claimDataFolder(folder, "npm start");
    expect(findUserOf(folder)?.pid).toBe(process.pid);
    claim.release();
  });
});

test("the key of the sessions is made once and readable by its owner only", () => {
  prepareDataFolder(folder, 1);
  const secret = ensureAuthSecret(folder);
  expect(secret.length).toBeGreaterThanOrEqual(32);
  expect(ensureAuthSecret(folder)).toBe(secret);
  expect(statSync(path.join(folder, "auth-secret")).mode & 0o777).toBe(0o600);
});

test.each(["", "   \n", "short", "x".repeat(31)])(
  "a key file that holds %j is refused in words, and not replaced",
  (text) => {
    prepareDataFolder(folder, 1);
    const file = path.join(folder, "auth-secret");
    writeFileSync(file, text);
    expect(() => ensureAuthSecret(folder)).toThrow(
      /auth-secret (is empty|holds no key).*at least 32 random characters\. Nothing was changed\..*Put the right one back/,
    );
    expect(readFileSync(file, "utf8")).toBe(text);
    rmSync(file);
    expect(ensureAuthSecret(folder).length).toBeGreaterThanOrEqual(32);
    rmSync(file);
  },
);
