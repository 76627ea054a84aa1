import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import http from "node:http";
import type { AddressInfo } from "node:net";
import { GET } from "@/app/metrics/route";
import { gauge, metricsText, count, observe, readCounted } from "@/lib/server/base/metrics";
import { log } from "@/lib/server/base/log";
import { getPool } from "@/lib/server/db/client";
import { watchRequest } from "@/lib/server/doors/watch-request";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { livingWorker, type TestWorker } from "../../helpers/living-worker";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let worker: TestWorker;

beforeAll(async () => {
  setTestEnvironment();
  vi.stubEnv("SHELLGATE_SLOW_MS", "150");
  vi.stubEnv("LOG_LEVEL", "warn");
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 1, plan: "routine" });
  worker = await livingWorker();
});
afterAll(async () => {
  vi.unstubAllEnvs();
  await worker.end();
  await database.drop();
});

async function ask(scope: "metrics:read" | "gate:read", accept = "*/*") {
  const { token } = await createToken(plant.system, { name: `for ${scope}`, scopes: [scope] });
  const headers = { authorization: `Bearer ${token}`, accept };
  return GET(new Request("http://localhost:3000/metrics", { headers }), { params: Promise.resolve({}) });
}

/** What was written to the log meanwhile, one object an entry. */
async function logged(work: () => Promise<unknown> | unknown): Promise<Record<string, unknown>[]> {
  const lines: string[] = [];
  const written = vi.spyOn(process.stderr, "write").mockImplementation((text) => lines.push(String(text)) > 0);
  try {
    await work();
  } finally {
    written.mockRestore();
  }
  return lines.map((line) => JSON.parse(line) as Record<string, unknown>);
}

/** A line of a sample in both forms: OpenMetrics 1.0, "sample" of its ABNF, with the names that we use. */
const SAMPLE = /^[a-z_:][a-z0-9_:]*(?:\{[a-z_]+="(?:[^"\\\n]|\\.)*"(?:,[a-z_]+="(?:[^"\\\n]|\\.)*")*\})? -?[0-9.e+-]+$/;

describe("/metrics", () => {
  it("tells whoever may read them the state of process, database, jobs, journal and backups", async () => {
    const answer = await ask("metrics:read");
    expect(answer.status).toBe(200);
    expect(answer.headers.get("content-type")).toBe("text/plain; version=0.0.4; charset=utf-8");
    const text = await answer.text();
    expect(text.endsWith("\n")).toBe(true);
    for (const line of text.trimEnd().split("\n")) if (!line.startsWith("# ")) expect(line).toMatch(SAMPLE);
    expect(text).toMatch(/^shellgate_workers 1$/m);
    expect(text).toMatch(/^shellgate_jobs\{state="failed"\} 0$/m);
    expect(text).toMatch(/^shellgate_database_bytes \d{6,}$/m);
    expect(text).toMatch(/^shellgate_database_pool_connections\{state="idle"\} \d+$/m);
    expect(text).not.toMatch(/shellgate_backup_age_seconds/);
    await database.owner.query(
      "insert into backup_run (plant_id, id, number, asked_at, ended_at) values ($1, gen_random_uuid(), 1, now(), now() - interval '1 hour')",
      [plant.plantId],
    );
    expect(await (await ask("metrics:read")).text()).toMatch(/^shellgate_backup_age_seconds 36\d\d(\.\d+)?$/m);
  });

  it("are refused without the right, and given as OpenMetrics to who asks for it", async () => {
    expect((await ask("gate:read")).status).toBe(403);
    const open = await ask("metrics:read", "application/openmetrics-text; version=1.0.0,text/plain;q=0.5");
    expect(open.headers.get("content-type")).toBe("application/openmetrics-text; version=1.0.0; charset=utf-8");
    expect((await open.text()).endsWith("# EOF\n")).toBe(true);
  });

  it("are spelt as the specification has it", () => {
    // Prometheus text format 0.0.4 and OpenMetrics 1.0: backslash, line feed and double quote are escaped in values of labels; buckets
    // count up to +Inf, which is the count; a counter's family is named without _total in OpenMetrics, with it in the older form.
    const families = [gauge("shellgate_test_odd", 'a "b"\\\nc', [[{ what: 'x"y\\z\n' }, 0.5]])];
    expect(metricsText(families, false)).toBe(
      '# HELP shellgate_test_odd a "b"\\\\\\nc\n# TYPE shellgate_test_odd gauge\nshellgate_test_odd{what="x\\"y\\\\z\\n"} 0.5\n',
    );
    count("shellgate_test_things", "things", { kind: "a" }, 2);
    count("shellgate_test_things", "things", { kind: "a" });
    for (const seconds of [0.004, 0.005, 0.3, 60]) observe("shellgate_test_seconds", "how long", seconds);
    const own = readCounted().filter(({ name }) => name.startsWith("shellgate_test"));
    expect(metricsText(own, true)).toBe(`# HELP shellgate_test_things things
# TYPE shellgate_test_things counter
shellgate_test_things_total{kind="a"} 3
# HELP shellgate_test_seconds how long
# TYPE shellgate_test_seconds histogram
shellgate_test_seconds_bucket{le="0.005"} 2
shellgate_test_seconds_bucket{le="0.01"} 2
shellgate_test_seconds_bucket{le="0.025"} 2
shellgate_test_seconds_bucket{le="0.05"} 2
shellgate_test_seconds_bucket{le="0.1"} 2
shellgate_test_seconds_bucket{le="0.25"} 2
shellgate_test_seconds_bucket{le="0.5"} 3
shellgate_test_seconds_bucket{le="1"} 3
shellgate_test_seconds_bucket{le="2.5"} 3
shellgate_test_seconds_bucket{le="5"} 3
shellgate_test_seconds_bucket{le="10"} 3
shellgate_test_seconds_bucket{le="+Inf"} 4
shellgate_test_seconds_sum 60.309
shellgate_test_seconds_count 4
# EOF
`);
    expect(metricsText(own, false)).toContain("# TYPE shellgate_test_things_total counter\n");
  });
});

describe("a request", () => {
  it("has one number in its answer and in whatever is logged meanwhile, and is counted", async () => {
    const server = http.createServer((request, response) => {
      watchRequest(request, response, () => {
        void (async () => {
          await getPool().query({ name: "slow-one", text: "select pg_sleep($1::float8)", values: [0.3] });
          log.warn("something odd", { where: "test" });
          response.end("ok");
        })();
      });
    });
    await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
    const { port } = server.address() as AddressInfo;
    try {
      let answers: Response[] = [];
      const lines = await logged(async () => {
        const ask = (id: string) => fetch(`http://127.0.0.1:${port}/api/v1/x`, { headers: { "x-request-id": id } });
        answers = await Promise.all([ask("first-request"), ask("second-request"), ask("a b")]);
        await Promise.all(answers.map((answer) => answer.text()));
      });
      const ids = answers.map((answer) => answer.headers.get("x-request-id"));
      expect(ids).toEqual(["first-request", "second-request", expect.stringMatching(/^[0-9a-f-]{36}$/)]);
      const of = (message: string) => lines.filter((line) => line["message"] === message);
      expect(of("something odd").map((line) => line["requestId"])).toEqual(expect.arrayContaining(ids));
      expect(of("a statement took long")).toHaveLength(3);
      for (const line of of("a statement took long")) {
        expect(line).toMatchObject({
          statement: "slow-one",
          text: "select pg_sleep($1::float8)",
          requestId: expect.any(String),
        });
        expect(Number(line["ms"])).toBeGreaterThanOrEqual(290);
        expect(JSON.stringify(line)).not.toContain("0.3");
      }
      const text = metricsText(readCounted(), true);
      expect(text).toMatch(/^shellgate_http_requests_total\{method="GET",kind="api",status="200"\} 3$/m);
      expect(text).toMatch(/^shellgate_http_request_seconds_count\{method="GET",kind="api"\} 3$/m);
      // Others were slow, too, where the machine is busy.
      const slow = /^shellgate_database_slow_statements_total (\d+)$/m.exec(text)?.[1];
      expect(Number(slow)).toBeGreaterThanOrEqual(3);
    } finally {
      await new Promise((resolve) => server.close(resolve));
    }
  });
});
