import { readdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { describe, expect, it } from "vitest";

const ROOT = path.resolve(import.meta.dirname, "../..");
const METHODS = ["GET", "POST", "PUT", "PATCH", "DELETE"];
/** Without a wrapper, since it is the floor of the benches. */
const BARE = "app/api/v1/alive/route.ts";

const routes = readdirSync(path.join(ROOT, "app"), { recursive: true, encoding: "utf8" })
  .filter((file) => path.basename(file) === "route.ts")
  .map((file) => `app/${file.split(path.sep).join("/")}`)
  .filter((file) => file !== BARE);

type Module = Record<string, (request: Request, context: unknown) => Promise<Response>>;
const load = (file: string): Promise<Module> => import(pathToFileURL(path.join(ROOT, file)).href) as Promise<Module>;
const ask = (module: Module, method: string) =>
  module[method]?.(new Request("http://localhost:3000/api/x", { method }), { params: Promise.resolve({}) });

describe.each(routes.filter((file) => !file.includes("[...address]")))("%s", (file) => {
  it("refuses every method but its own in words, and says which it takes", async () => {
    const module = await load(file);
    const options = await ask(module, "OPTIONS");
    expect(options?.status).toBe(204);
    const allowed = options?.headers.get("allow")?.split(", ") ?? [];
    const others = METHODS.filter((method) => !allowed.includes(method));
    expect(others).toHaveLength(METHODS.length - 1);
    for (const method of others) {
      const response = await ask(module, method);
      expect(response?.status).toBe(405);
      expect(response?.headers.get("allow")).toBe(options?.headers.get("allow"));
      expect(response?.headers.get("content-type")).toBe("application/problem+json");
      expect(await response?.json()).toMatchObject({
        code: "method-not-allowed",
        detail: `This address takes ${allowed[0]}, not ${method}. Nothing was changed.`,
      });
    }
  });
});

it("tells programs at an address that is none so in words, whatever the method", async () => {
  const module = await load("app/api/[...address]/route.ts");
  for (const method of METHODS) {
    const request = new Request("http://localhost:3000/api/v1/nothing", {
      method,
      headers: { authorization: "Bearer sg_none" },
    });
    const response = await module[method]?.(request, { params: Promise.resolve({}) });
    expect(response?.status).toBe(404);
    expect(await response?.json()).toMatchObject({
      code: "not-found",
      detail: expect.stringContaining("/api/v1/nothing"),
    });
  }
});
