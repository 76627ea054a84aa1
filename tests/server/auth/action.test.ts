import { redirect } from "next/navigation";
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { z } from "zod";
import { signInAction } from "@/app/sign-in/actions";
import { CoreError } from "@/lib/core/errors";
import { AppError } from "@/lib/errors";
import { defineAction, definePublicAction, formFields } from "@/lib/server/doors/action";
import { viewerFromHeaders } from "@/lib/server/auth/session";
import { signIn } from "@/lib/server/auth/sign-in";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { cookieHeader, createPlant, createSignIn, PASSWORD, setTestEnvironment } from "./plant-fixture";

// The one thing that only a running Next has: the headers of the request and the cookies of the answer.
const request = vi.hoisted(() => ({ headers: new Headers(), sent: new Map<string, unknown[]>() }));
vi.mock("next/headers", () => ({
  headers: async () => request.headers,
  cookies: async () => ({ set: (name: string, ...rest: unknown[]) => request.sent.set(name, rest) }),
}));

let database: TestDatabase;
let cookie: string;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  await createSignIn(await createPlant("action"), "ines@plant.example", "inspector");
  cookie = cookieHeader(await signIn({ email: "ines@plant.example", password: PASSWORD }, new Headers()));
});
afterAll(() => database.drop());
beforeEach(() => {
  request.headers = new Headers({ cookie });
  request.sent.clear();
});

const schema = z.strictObject({ serial: z.string().min(1), tags: z.array(z.string()).optional() });
const ask = defineAction(schema, async (viewer, input) => ({ who: viewer.name, ...input }));

function form(fields: readonly (readonly [string, string])[]): FormData {
  const data = new FormData();
  for (const [name, value] of fields) data.append(name, value);
  return data;
}

describe("an action", () => {
  it("runs for who is signed in, called with its input or by a form", async () => {
    expect(await ask({ serial: "C41-1" })).toEqual({ ok: true, data: { who: "ines", serial: "C41-1" } });
    const fields = form([
      ["serial", "C41-2"],
      ["tags[]", "a"],
      ["$ACTION_REF_1", ""],
    ]);
    expect(await ask(null, fields)).toEqual({ ok: true, data: { who: "ines", serial: "C41-2", tags: ["a"] } });
  });

  it("does not run for nobody", async () => {
    request.headers = new Headers();
    expect(await ask({ serial: "C41-1" })).toMatchObject({ ok: false, error: { code: "not-signed-in" } });
  });

  it("does not even look at what nobody sends, and takes no more than it needs", async () => {
    let looked = 0;
    const watched = z.strictObject({
      serial: z.string().transform((text) => {
        looked += 1;
        return text;
      }),
    });
    const small = defineAction(watched, async () => null);
    request.headers = new Headers();
    expect(await small({ serial: "1".repeat(500_000) })).toMatchObject({ error: { code: "not-signed-in" } });
    request.headers = new Headers({ cookie });
    const large = { serial: "1".repeat(64 * 1024) };
    expect(await small(large)).toMatchObject({
      error: { code: "too-large", message: expect.stringMatching(/Nothing was changed/) },
    });
    expect(await small(null, form([["serial", large.serial]]))).toMatchObject({ error: { code: "too-large" } });
    expect(looked).toBe(0);
    expect(await defineAction(watched, async () => "in", { maxCharacters: 100_000 })(large)).toEqual({
      ok: true,
      data: "in",
    });
    expect(await definePublicAction(watched, async () => null)({ serial: "1".repeat(9000) })).toMatchObject({
      error: { code: "too-large" },
    });
  });

  it("reads a form of very many fields in one pass", async () => {
    const many = form(Array.from({ length: 3000 }, (_, index) => [`f${index}`, ""] as const));
    expect(Object.keys(formFields(many))).toHaveLength(3000);
    expect(await ask(null, many)).toMatchObject({ error: { code: "invalid-input" } });
  });

  it("tells which field is wrong, whatever was sent", async () => {
    for (const bad of [{ serial: "" }, { serial: "x", more: 1 }, null, 7, [], undefined]) {
      const result = await ask(bad as never);
      expect(result).toMatchObject({ ok: false, error: { code: "invalid-input", fields: [expect.anything()] } });
    }
  });

  it("turns expected errors into words and unexpected ones into a number", async () => {
    const failing = (error: unknown) =>
      definePublicAction(z.null(), async () => {
        throw error;
      })(null);
    expect(await failing(new AppError("wrong-batch", "Another batch."))).toEqual({
      ok: false,
      error: { code: "wrong-batch", message: "Another batch." },
    });
    expect(await failing(new CoreError("not-finite", "mean: x must be finite; got NaN"))).toMatchObject({
      error: { code: "invalid-input" },
    });
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    const result = await failing(new Error("secret_table"));
    expect(written).toHaveBeenCalledTimes(1);
    written.mockRestore();
    expect(result).toMatchObject({ ok: false, error: { code: "unexpected", eventId: expect.any(String) } });
    expect(JSON.stringify(result)).not.toContain("secret_table");
  });

  it("lets a redirect through", async () => {
    const moves = definePublicAction(z.null(), async () => redirect("/gate"));
    await expect(moves(null)).rejects.toMatchObject({ digest: expect.stringContaining("/gate") });
  });
});

describe("the sign-in form", () => {
  const send = (password: string, next: string) =>
    signInAction(
      null,
      form([
        ["email", "Ines@plant.example"],
        ["password", password],
        ["next", next],
      ]),
    );

  it("sends the session's cookie and leads to where the visitor wanted to go", async () => {
    request.headers = new Headers();
    await expect(send(PASSWORD, "/gate?batch=PM-1")).rejects.toMatchObject({
      digest: expect.stringContaining("/gate?batch=PM-1"),
    });
    const [value, options] = request.sent.get("shellgate.session_token") ?? [];
    expect(options).toMatchObject({ httpOnly: true, sameSite: "lax", path: "/", maxAge: 16 * 3600 });
    const mine = new Headers({ cookie: `shellgate.session_token=${encodeURIComponent(String(value))}` });
    expect(await viewerFromHeaders(mine)).toMatchObject({ name: "ines" });
  });

  it("never leads to another site", async () => {
    await expect(send(PASSWORD, "//evil.example")).rejects.toMatchObject({
      digest: expect.stringMatching(/NEXT_REDIRECT;[a-z]+;\/;/),
    });
  });

  it("says in words that it was refused, and sends no cookie", async () => {
    const result = await send("wrong-wrong-wrong", "/");
    expect(result).toEqual({
      ok: false,
      error: { code: "sign-in-refused", message: "The e-mail or the password is not right. Check both and try again." },
    });
    expect(request.sent.size).toBe(0);
  });
});
