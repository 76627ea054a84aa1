import { spawnSync } from "node:child_process";
import path from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { isOpenSetUpLink } from "@/lib/server/people/new-plant";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { createPlant, setTestEnvironment } from "@/tests/server/auth/plant-fixture";

const ROOT = path.resolve(import.meta.dirname, "../../..");
let database: TestDatabase;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

function run(env: Record<string, string> = {}): { code: number | null; out: string; err: string } {
  const done = spawnSync(process.execPath, ["lib/cli/run.mjs", "lib/cli/first-run.ts"], {
    cwd: ROOT,
    env: { ...process.env, ...env },
    encoding: "utf8",
  });
  return { code: done.status, out: done.stdout, err: done.stderr };
}

describe("the first run of an empty database", () => {
  it("prints a link that works, and after the set-up says that there is a plant", async () => {
    const first = run({ SHELLGATE_ORIGIN: "https://bench.example:3000" });
    expect(first).toMatchObject({ code: 0, err: "" });
    const link = /https:\/\/bench\.example:3000\/new-plant\/([A-Za-z0-9_-]{43})/.exec(first.out);
    expect(await isOpenSetUpLink(link?.[1] ?? "")).toBe(true);
    await createPlant("there");
    const second = run();
    expect(second.code).toBe(0);
    expect(second.out).toContain("The plant is set up already");
  });

  it("says in one line that the database is away", () => {
    const { code, out, err } = run({ DATABASE_URL: "postgresql://nobody:x@127.0.0.1:9/none" });
    expect([code, out]).toEqual([1, ""]);
    expect(err).toMatch(/^No set-up link could be made: /);
    expect(err.trim().split("\n")).toHaveLength(1);
  });
});
