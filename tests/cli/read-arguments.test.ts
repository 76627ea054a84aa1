import { spawnSync } from "node:child_process";
import path from "node:path";
import { expect, it } from "vitest";

const ROOT = path.resolve(import.meta.dirname, "../..");

it.each(["backup", "restore", "doctor", "verify-journal"])(
  "%s says in words that an option is none of its own, and does nothing",
  (command) => {
    const program = ["lib/cli/run.mjs", `lib/cli/${command}.ts`, "--nope"];
    const { status, stderr } = spawnSync(process.execPath, program, { cwd: ROOT, encoding: "utf8", timeout: 60_000 });
    expect(status).toBe(1);
    expect(stderr).toMatch(/^Unknown option '--nope'[^\n]*\nNothing was done\.\n\nnpm run /);
    expect(stderr).not.toMatch(/ {4}at /);
  },
);
