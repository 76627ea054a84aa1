import { describe, expect, inject, it } from "vitest";
import { DEMO_PASSWORD, DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";

const base = inject("appAddress");

/** The session cookie of somebody who may ask for calculations. */
async function signIn(): Promise<string> {
  const email = DEMO_SIGN_INS.find(({ roles }) => roles.includes("engineer"))?.email ?? "";
  const answer = await fetch(`${base}/api/auth/sign-in`, {
    method: "POST",
    headers: { "content-type": "application/json", origin: base },
    body: JSON.stringify({ email, password: DEMO_PASSWORD }),
  });
  expect(answer.status).toBe(204);
  return answer.headers
    .getSetCookie()
    .map((one) => one.split(";")[0])
    .join("; ");
}

const ask = (cookie: string, body: unknown) =>
  fetch(`${base}/api/v1/analysis`, {
    method: "POST",
    headers: { "content-type": "application/json", origin: base, cookie },
    body: JSON.stringify(body),
  });

const SHORT = { kind: "chart-constants", n: 5 };
/** Half a second of a core or more; as many as may wait are not done within the deadline. */
const MANY = 16;
const LONG = {
  kind: "capability",
  characteristic: "zero-bound",
  values: Array.from({ length: 250 }, (_, index) => 1 + Math.sin(index) ** 2),
  limits: { lower: null, upper: 3 },
  stability: { verdict: "stable" },
  resamples: 2000,
};

describe("the computing thread of the built application", () => {
  it("answers, gives up in words what takes too long, leaves everybody else alone, and is made anew", async () => {
    const cookie = await signIn();
    const short = await ask(cookie, SHORT);
    // ASTM E2587, table of factors: d2 of n 5 is 2.326
    expect(await short.json()).toMatchObject({ result: { d2: expect.closeTo(2.326, 3) } });

    let isOver = false;
    const asked = Promise.all(Array.from({ length: MANY }, () => ask(cookie, LONG))).finally(() => (isOver = true));
    let alive = 0;
    while (!isOver) {
      expect((await fetch(`${base}/api/v1/alive`)).status).toBe(200);
      alive += 1;
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
    // In five seconds, a pause of 50 ms between two: most of a hundred, and a few where the machine has other work.
    expect(alive).toBeGreaterThan(10);
    const late = (await asked).filter(({ status }) => status !== 200);
    expect(late.length).toBeGreaterThan(0);
    for (const answer of late) {
      expect([answer.status, answer.headers.get("retry-after")]).toEqual([503, "5"]);
      expect(await answer.json()).toMatchObject({
        code: "unavailable",
        detail: expect.stringContaining("was not ready within 5 seconds. Nothing was changed; try again in a moment"),
      });
    }

    const next = await ask(cookie, SHORT);
    expect([next.status, await next.json()]).toEqual([200, expect.objectContaining({ result: expect.anything() })]);
  });
});
