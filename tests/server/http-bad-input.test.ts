import fc from "fast-check";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST as postAnalysis } from "@/app/api/v1/analysis/route";
import { GET as getCase } from "@/app/api/v1/cases/[id]/route";
import { GET as getCases } from "@/app/api/v1/cases/route";
import { POST as postEvent } from "@/app/api/v1/events/route";
import { GET as getGateBatch } from "@/app/api/v1/gate/batches/[id]/route";
import { GET as getGateFrame } from "@/app/api/v1/gate/frames/[serial]/route";
import { GET as getTrace } from "@/app/api/v1/gauges/[key]/trace/route";
import { POST as postGaugeStudy } from "@/app/api/v1/gauge-studies/analysis/route";
import { POST as postGeometry } from "@/app/api/v1/geometry/route";
import { POST as postSampling } from "@/app/api/v1/sampling/route";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { POST as postGiveUp } from "@/app/api/v1/line/give-up/route";
import { POST as postLease } from "@/app/api/v1/line/leases/route";
import { POST as postState } from "@/app/api/v1/line/state/route";
import { GET as getStation } from "@/app/api/v1/line/stations/[id]/route";
import { POST as postWithdrawal } from "@/app/api/v1/line/withdrawals/route";
import { GET as getPaper } from "@/app/api/v1/papers/[id]/route";
import { POST as postPaper } from "@/app/api/v1/papers/route";
import { POST as postShipment } from "@/app/api/v1/shipments/route";
import { GET as getTraceBack } from "@/app/api/v1/trace/route";
import { POST as postZeroCheck } from "@/app/api/v1/zero-checks/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { ROLES } from "@/lib/schemas/people";
import { signIn } from "@/lib/server/auth/sign-in";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "./auth/plant-fixture";

type Handler = (request: Request, context: { params: Promise<Record<string, string>> }) => Promise<Response>;
type Json = null | boolean | number | string | Json[] | { [key: string]: Json };

let database: TestDatabase;
let plant: TestPlant;
let headers: Record<string, string> = {};
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 9, plan: "routine" });
  await createSignIn(plant.system, "all@plant.example", ...ROLES);
  const cookie = cookieHeader(await signIn({ email: "all@plant.example", password: PASSWORD }, new Headers()));
  headers = { cookie, origin: ORIGIN };
});
afterAll(async () => database.drop());

const BODIES: Readonly<Record<string, readonly [Handler, () => unknown]>> = {
  inspection: [
    postInspections as Handler,
    () => ({
      ...plant.inspection("T-0001"),
      states: plant.names.map(() => "measured"),
      offsetsMs: plant.names.map((_, index) => index * 900),
      superseded: [{ index: 0, value: 41, reason: "a slip", offsetMs: 3 }],
      attributes: {
        plugs: { "ds.plug.41.000": "hand" },
        bars: { "bar.41": { result: "stiff", clockDeg: 20 } },
        remark: "clean",
        cannotReasons: { "ds.bore.1@12-6": "a burr" },
        temperatureC: 20,
      },
      clockSkewMs: 5,
      deviceId: "tablet-1",
      tool: "reamer 3",
      reason: "again",
    }),
  ],
  inspections: [
    postInspections as Handler,
    () => ({ inspections: [plant.inspection("T-0002"), plant.inspection("T-0003")] }),
  ],
  shipment: [postShipment as Handler, () => ({ id: uuidV7(), serial: "T-0004" })],
  lease: [postLease as Handler, () => ({ serial: "T-0005", deviceId: "tablet-1", batch: TEST_BATCH })],
  giveUp: [postGiveUp as Handler, () => ({ serial: "T-0005", deviceId: "tablet-1", reason: "lost" })],
  state: [
    postState as Handler,
    () => ({
      deviceId: "tablet-1",
      stationId: plant.stationId,
      waiting: 1,
      refused: 0,
      oldestAt: 1,
      clockSkewMs: -3,
    }),
  ],
  withdrawal: [postWithdrawal as Handler, () => ({ id: uuidV7(), reason: "another frame" })],
  zeroCheck: [
    postZeroCheck as Handler,
    () => ({ id: uuidV7(), gauge: "BG-1", readingMm: 41, occasion: "other", at: new Date().toISOString() }),
  ],
  geometry: [
    postGeometry as Handler,
    () => ({
      drawing: "press-fit-41",
      readings: { "ds.bore.1@12-6": 40.97, "ds.bore.1@3-9": 40.98 },
      plugs: { "ds.plug.40.95": "hand" },
      bar: { result: "stiff", clockDeg: 12 },
      monteCarlo: { draws: 100, seed: 4 },
    }),
  ],
  sampling: [
    postSampling as Handler,
    () => ({ scheme: "iso-3951-1", lot: 100, level: "II", aql: 1, severity: "normal", method: "s", p: [0.01, 0.1] }),
  ],
  gaugeStudy: [
    postGaugeStudy as Handler,
    () => ({
      method: "anova",
      tolerance: 0.05,
      poolingAlpha: 0.25,
      readings: [0, 1, 2].flatMap((part) =>
        ["A", "B"].flatMap((inspector) =>
          [1, 2].map((trial) => ({ part, inspector, trial, value: 41 + 0.001 * (part + trial * part) })),
        ),
      ),
    }),
  ],
  event: [
    postEvent as Handler,
    () => ({
      id: uuidV7(),
      line: "L1",
      kind: "reamer changed",
      at: new Date().toISOString(),
      text: "R-7 fitted",
      subject: "R-7",
      instead: { event: uuidV7(), reason: "entered wrong" },
    }),
  ],
  paper: [
    postPaper as Handler,
    () => ({
      id: uuidV7(),
      about: { kind: "shift", line: "L1", from: "2026-06-05T06:00:00Z", to: "2026-06-05T14:00:00Z" },
    }),
  ],
  analysis: [
    postAnalysis as Handler,
    () => ({ kind: "run-rules", values: [0, 2.5, 0.1, 2.2, 3.5], centre: 0, sigma: 1 }),
  ],
};

const NASTY: fc.Arbitrary<Json> = fc.constantFrom<Json[]>(
  "",
  " ",
  "\u0000",
  "a\u0000b",
  "\ud800",
  "\ufeff",
  "\u202e",
  "😀".repeat(40),
  "x".repeat(100_000),
  "../../etc/passwd",
  "%00",
  "' or 1=1 --",
  "<script>alert(1)</script>",
  "NaN",
  "41,9",
  "-infinity",
  "__proto__",
  "0001-01-01T00:00:00Z",
  "9999-12-31T23:59:59Z",
  "2026-02-30T00:00:00Z",
  "00000000-0000-0000-0000-000000000000",
  -1,
  0,
  0.5,
  1e308,
  -1e308,
  5e-324,
  2 ** 31,
  2 ** 53,
  409.75,
  true,
  null,
  [],
  {},
  [[[[]]]],
  Array<Json>(3000).fill(1),
  { constructor: { prototype: 1 } },
);

/** Every place in a value, as the keys that lead to it. */
function placesOf(value: unknown, at: readonly (string | number)[] = []): (string | number)[][] {
  if (typeof value !== "object" || value === null) return [[...at]];
  const inner = Array.isArray(value)
    ? value.slice(0, 3).map((item, index) => [index, item] as const)
    : Object.entries(value);
  return [[...at], ...inner.flatMap(([key, item]) => placesOf(item, [...at, key]))];
}

type Change = { readonly where: number; readonly how: "replace" | "remove" | "add" | "append"; readonly value: Json };

function changed(body: unknown, { where, how, value }: Change): unknown {
  const places = placesOf(body);
  const place = places[where % places.length] ?? [];
  const key = place.at(-1);
  if (key === undefined) return how === "replace" ? value : body;
  const copy = structuredClone(body);
  const parent = place
    .slice(0, -1)
    .reduce<unknown>((inner, step) => (inner as Record<string | number, unknown>)[step], copy);
  const target = parent as Record<string | number, unknown>;
  if (how === "remove" && !Array.isArray(target)) delete target[key];
  else if (how === "add" && !Array.isArray(target)) target[typeof value === "string" ? value : "extra"] = value;
  else if (how === "append" && typeof target[key] === "string") target[key] = `${target[key]}\u0000`;
  else target[key] = value;
  return copy;
}

async function ask(
  handler: Handler,
  options: { body?: string; type?: string; params?: Record<string, string>; query?: string; headers?: object },
) {
  const { body, type = "application/json", params = {}, query = "" } = options;
  const request = new Request(`http://localhost:3000/api/v1/any${query}`, {
    method: body === undefined ? "GET" : "POST",
    headers: { ...headers, ...(body === undefined ? {} : { "content-type": type }), ...options.headers },
    ...(body === undefined ? {} : { body }),
  });
  const response = await handler(request, { params: Promise.resolve(params) });
  return { status: response.status, text: await response.text() };
}

/** An answer is 200, or a refusal that says what was kept and gives nothing away. */
function expectAnswer({ status, text }: { status: number; text: string }): void {
  expect([200, 400, 401, 403, 404, 409, 413, 415, 422]).toContain(status);
  expect(text).not.toMatch(/node_modules|\.ts:\d|postgres|select .* from|constraint|relation "/i);
  if (status === 200) return;
  const { detail } = JSON.parse(text) as { detail: string };
  // What the database refuses a schema should have refused, by the name of the field.
  expect(detail).not.toContain("A value cannot be stored");
  expect(detail).toMatch(/nothing|not known|no frame|there is no|belongs to|being measured|shipped already/i);
}

describe("bad input over HTTP", () => {
  it.each(Object.keys(BODIES))("never makes the server fail, nor leaves anything half done: %s", async (name) => {
    const [handler, make] = BODIES[name] ?? [];
    if (!handler || !make) throw new Error(`there is no body ${name}`);
    const change = fc.record<Change>({
      where: fc.nat(200),
      how: fc.constantFrom(
        "replace" as const,
        "replace" as const,
        "remove" as const,
        "add" as const,
        "append" as const,
      ),
      value: NASTY,
    });
    await fc.assert(
      fc.asyncProperty(fc.array(change, { minLength: 1, maxLength: 2 }), async (changes) => {
        const body = changes.reduce<unknown>((before, one) => changed(before, one), make());
        expectAnswer(await ask(handler, { body: JSON.stringify(body) ?? "" }));
      }),
      { seed: 41, numRuns: 45 },
    );
    const text = JSON.stringify(make());
    for (const body of ["", "{", "null", "[]", "[".repeat(20_000), text.slice(0, -3), `${text}x`, "\u0000", "NaN"])
      expectAnswer(await ask(handler, { body }));
    // The last of two equal keys counts, as JSON.parse has it: an answer, whichever it is.
    expectAnswer(await ask(handler, { body: text.replace("{", '{"id":"x","id":7,') }));
    for (const type of ["text/plain", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded", "json"])
      expect((await ask(handler, { body: text, type })).status).toBe(415);
    const zipped = await ask(handler, { body: text, headers: { "content-encoding": "gzip" } });
    expect([zipped.status, zipped.text]).toEqual([415, expect.stringContaining("compressed (gzip)")]);
    const large = await ask(handler, { body: `{"pad":"${"x".repeat(10 * 2 ** 20)}"}` });
    expect([large.status, large.text]).toEqual([413, expect.stringMatching(/larger than \d.* MB\. Nothing was kept/)]);
    for (const authorization of ["Bearer sg_nobody", "Bearer ", "Basic YTpi", `Bearer ${"x".repeat(9000)}`])
      expect((await ask(handler, { body: text, headers: { authorization } })).status).toBe(401);
    expect((await ask(handler, { body: text, headers: { origin: "https://elsewhere.example" } })).status).toBe(403);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it.each<[string, Handler, string]>([
    ["gate frame", getGateFrame as Handler, "serial"],
    ["gate batch", getGateBatch as Handler, "id"],
    ["station", getStation as Handler, "id"],
    ["gauge trace", getTrace as Handler, "key"],
    ["case", getCase as Handler, "id"],
    ["document", getPaper as Handler, "id"],
  ])("is answered where it stands in the address: %s", async (_, handler, name) => {
    const long = "x".repeat(5000);
    for (const value of [
      "",
      " ",
      "\u0000",
      "a\u0000b",
      "\ud800",
      "../..",
      "a/b",
      "%00",
      "😀",
      "' or 1=1",
      long,
      "null",
    ])
      expectAnswer(await ask(handler, { params: { [name]: value } }));
    for (const query of [
      "?of=gauge&key=%00",
      "?of=inspector&key=x",
      "?of=plan&key=",
      "?of=x&key=1",
      "?of=ring&key=%F0%9F",
    ])
      expectAnswer(await ask(getTraceBack as Handler, { query }));
    for (const query of ["?from=%00", "?from=x", "?from=1&from=2", "?to=9999-12-31T23:59:59Z", "?from=&to=", "?%FF=1"])
      expectAnswer(await ask(handler, { params: { [name]: "T-0001" }, query }));
  });

  const MOMENTS = [
    "0000-01-01T00:00:00Z",
    "2026-06-05T00:00:00+23:59",
    "2026-06-05T23:59:60Z",
    "9999-12-31T23:59:59-12:00",
    "2026-06-05T14:30:00",
  ];
  it.each(MOMENTS)("is refused by the name of its field where a moment is %s", async (moment) => {
    const at = encodeURIComponent(moment);
    const asked: readonly (readonly [Handler, string, string])[] = [
      [getCases as Handler, `?since=${at}`, "since"],
      [getTraceBack as Handler, `?of=gauge&key=BG-1&from=${at}`, "from"],
      [getTrace as Handler, `?from=${at}`, "from"],
    ];
    for (const [handler, query, field] of asked) {
      const answer = await ask(handler, { params: { key: "BG-1" }, query });
      expectAnswer(answer);
      expect(answer.status).toBe(400);
      expect(answer.text).toContain(`"path":"${field}"`);
    }
  });

  it("is refused by the name of its field where a number is beyond those of cases", async () => {
    for (const before of ["3000000000", "1e15", "-1", "0.5", "x"]) {
      const answer = await ask(getCases as Handler, { query: `?before=${before}` });
      expectAnswer(answer);
      expect(answer.text).toContain('"path":"before"');
    }
  });
});
