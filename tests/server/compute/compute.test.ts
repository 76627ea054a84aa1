import { once } from "node:events";
import { Worker } from "node:worker_threads";
import { beforeAll, describe, expect, it, vi } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { AppError } from "@/lib/errors";
import { compute } from "@/lib/server/compute/compute";

const bytes = (body: unknown) => new TextEncoder().encode(JSON.stringify(body));
const read = (answer: Uint8Array) => JSON.parse(new TextDecoder().decode(answer)) as { result: unknown };
const values = Array.from({ length: 2000 }, (_, index) => 1 + Math.sin(index) ** 2);
/** Some tenths of a second of one core. */
const long = () =>
  bytes({
    kind: "capability",
    characteristic: "zero-bound",
    values: values.slice(0, 150),
    limits: { lower: null, upper: 3 },
    stability: { verdict: "stable" },
    resamples: 400,
  });

const refusalOf = async (work: Promise<unknown>): Promise<AppError> => {
  const error: unknown = await work.then(
    () => null,
    (thrown: unknown) => thrown,
  );
  if (!(error instanceof AppError)) throw new Error(`expected a refusal, got ${String(error)}`);
  return error;
};

/** The longest pause between two beats of a thread that does nothing else: what the machine's other work does to any thread. */
async function beatOfAnotherThread(): Promise<{ end: () => Promise<number> }> {
  const program = `
    const { parentPort } = require("node:worker_threads");
    let [longest, last] = [0, performance.now()];
    setInterval(() => {
      longest = Math.max(longest, performance.now() - last);
      last = performance.now();
    }, 10);
    parentPort.on("message", () => parentPort.postMessage(longest));
    parentPort.postMessage(0);`;
  const worker = new Worker(program, { eval: true });
  await once(worker, "message");
  return {
    end: async () => {
      worker.postMessage("end");
      const [longest] = (await once(worker, "message")) as [number];
      await worker.terminate();
      return longest;
    },
  };
}

// Its sources are compiled for the first time here; a busy machine may need longer than a thread is waited for.
beforeAll(() =>
  vi.waitFor(() => compute("analysis", bytes({ kind: "chart-constants", n: 5 })), { timeout: 200_000, interval: 500 }),
);

describe("the computing thread", () => {
  it("answers with the bytes that are sent on", async () => {
    const answer = read(await compute("analysis", bytes({ kind: "chart-constants", n: 5 }))) as {
      result: { d2: number };
    };
    // ASTM E2587, table of factors: d2 of n 5 is 2.326
    expect(Math.abs(answer.result.d2 - 2.326)).toBeLessThan(0.0005);
  });

  it("tells errors as the thread that answers would", async () => {
    const chart = { chart: "individuals", values: [1, 2, 3], excluded: [7] };
    await expect(compute("analysis", bytes({ kind: "chart", chart }))).rejects.toBeInstanceOf(CoreError);
    expect((await refusalOf(compute("analysis", bytes({ kind: "nothing" })))).code).toBe("invalid-input");
    expect((await refusalOf(compute("analysis", new TextEncoder().encode("{")))).code).toBe("invalid-input");
    expect(
      (await refusalOf(compute("geometry", bytes({ drawing: "none", readings: { "ds.bore.2@12-6": 41 } })))).code,
    ).toBe("not-found");
  });

  it("says the limit of a list that is too long, and of patterns that are", async () => {
    const many = Array.from({ length: 100_001 }, () => 1);
    const list = await refusalOf(compute("analysis", bytes({ kind: "change-point", values: many })));
    expect([list.code, list.userMessage]).toEqual(["too-large", expect.stringContaining("at most 100000 entries")]);
    const rules = Array.from({ length: 15 }, (_, index) => ({ id: `r${index}`, test: "same-side", length: 31 }));
    const asked = { kind: "run-rules", centre: 0, values: many.slice(1), rules };
    const patterns = await refusalOf(compute("analysis", bytes(asked)));
    expect([patterns.code, patterns.userMessage]).toEqual([
      "too-large",
      expect.stringContaining("at most 21505 values"),
    ]);
  });

  it("refuses an answer that would be larger than a program reads at once", async () => {
    const rules = Array.from({ length: 10 }, (_, index) => ({ id: `r${index}`, test: "same-side", length: 20 }));
    const asked = { kind: "run-rules", centre: 0, sigma: 1, values: Array.from({ length: 28_000 }, () => 1), rules };
    // Its turn may be over before the answer is that long, where the machine has other work.
    const answered = async () => {
      const refused = await refusalOf(compute("analysis", bytes(asked)));
      if (refused.code === "unavailable") throw refused;
      return refused;
    };
    const refused = await vi.waitFor(answered, { timeout: 100_000 });
    expect([refused.code, refused.userMessage]).toEqual(["too-large", expect.stringContaining("32 MB")]);
  });

  it("keeps to its queue and its deadline while the thread that answers stays free, and works on afterwards", async () => {
    let longest = 0;
    let last = performance.now();
    const beat = setInterval(() => {
      longest = Math.max(longest, performance.now() - last);
      last = performance.now();
    }, 10);
    const held = await beatOfAnotherThread();
    const started = performance.now();
    const outcomes = await Promise.all(
      Array.from({ length: 40 }, () =>
        compute("analysis", long()).then(
          () => "answered",
          (error: unknown) => error,
        ),
      ),
    );
    const took = performance.now() - started;
    clearInterval(beat);
    const refused = outcomes.filter((one) => one instanceof AppError);
    expect(outcomes.filter((one) => one === "answered").length + refused.length).toBe(40);
    expect(outcomes.filter((one) => one === "answered").length).toBeGreaterThan(0);
    // One is computed, 16 wait; of these some are not reached within five seconds.
    expect(refused.length).toBeGreaterThanOrEqual(23);
    for (const one of refused) {
      expect(one.code).toBe("unavailable");
      expect(one.details).toMatchObject({ retryAfterSeconds: 5 });
    }
    // All at once up to the deadline, none after another's: 40 deadlines would be 200 s.
    expect(took).toBeLessThan(50_000);
    // A core of its own or not, the thread that answers is never held for longer than one that does nothing.
    expect(longest).toBeLessThan(500 + 3 * (await held.end()));
    expect(read(await compute("analysis", bytes({ kind: "chart-constants", n: 3 }))).result).toBeTruthy();
  });
});
