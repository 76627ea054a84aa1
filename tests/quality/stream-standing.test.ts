import { describe, expect, it } from "vitest";
import { streamFigures } from "@/app/drift/streams/[id]/_components/stream-figures";
import { readStream } from "@/app/drift/streams/[id]/_components/stream-reading";
import type { ChartSpec } from "@/lib/charts/chart-spec";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { standingAdvice, standingHeadline, standingSentence } from "@/lib/format/standing-words";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { FINDING_FRAMES } from "@/lib/quality/stream-finding";
import type { StreamEvent } from "@/lib/server/drift/charted-frames";
import type { StreamPage, StreamPoint } from "@/lib/server/drift/queries";
import type { StreamCase } from "@/lib/server/drift/stream-cases";

const FROM = Date.parse("2026-06-01T06:00:00Z");
const MINUTE = 60_000;
/** Press-fit 41 of the demonstration drawings: 40.950 to 41.000 mm. */
const [LOWER, UPPER, U] = [40.95, 41, 0.006];
const SD = 0.0013;
const WINDOWS = [FINDING_FRAMES, 5000] as const;

type History = {
  readonly points: readonly StreamPoint[];
  readonly cases: readonly StreamCase[];
  readonly events: readonly StreamEvent[];
  /** Where its level stepped, and by how many standard deviations; null where it did not. */
  readonly step: { readonly at: number; readonly by: number } | null;
};

const serialOf = (frame: number): string => `T-${String(frame + 1).padStart(5, "0")}`;
const idOf = (frame: number): string => `inspection ${frame}`;

function caseOf(
  number: number,
  points: readonly StreamPoint[],
  given: { readonly at: number; readonly end: number | null; readonly state: "open" | "closed"; readonly byUm: number },
): StreamCase {
  const { at, end, state, byUm } = given;
  const until = end === null ? points.length - 1 : end;
  const change = { value: byUm, unit: "µm", each: "change" } as const;
  const inside = points.slice(at, until + 1).map((_, place) => at + place);
  const outside = inside.filter((place) => points[place]?.isOutside === true);
  const found: FoundCase = {
    since: { serial: serialOf(at), earliest: serialOf(Math.max(0, at - 3)), latest: serialOf(at + 2) },
    until: end === null ? null : serialOf(end),
    kind: end === at ? "frames" : "step",
    change,
    lead: "nds.bore.mean",
    towards: null,
    members: [{ feature: "nds.bore.mean", by: "signal", sign: byUm < 0 ? -1 : 1, change }],
    causes: [{ cause: "gauge", subject: null, lnOdds: 0, evidence: [] }],
    answer: { kind: "probable", cause: "gauge", twin: null },
    foundAt: serialOf(at),
    frames: until - at + 1,
    outside: outside.map(serialOf),
    framesToLimit: null,
    events: [],
    earlier: [],
  };
  return {
    id: `case ${number}`,
    number,
    state,
    found,
    sinceAt: new Date(FROM + at * MINUTE).toISOString(),
    overAt: end === null ? null : new Date(FROM + end * MINUTE).toISOString(),
    closedAt: state === "closed" ? new Date(FROM + points.length * MINUTE).toISOString() : null,
    stands: true,
    cause: state === "closed" ? "gauge" : null,
    signals: [...inside.filter((place) => (place - at) % 5 === 0), ...outside].map(idOf),
    streams: new Set(["nds.bore.mean"]),
  };
}

/** A history of one bore: steady, stepped, worn or knocked, with or without its cases, few frames or many. */
function historyOf(seed: number): History {
  const random = createSeededGenerator(seed);
  const one = (from: number, to: number) => from + Math.floor(random.uniform() * (to - from));
  const kind = (["steady", "step", "wear", "knocked", "case", "over", "closed", "few"] as const)[seed % 8] ?? "steady";
  const frames = kind === "few" ? one(1, 40) : one(450, 1600);
  const at = one(Math.max(1, frames - 280), Math.max(2, frames - 40));
  const by = (random.uniform() < 0.5 ? -1 : 1) * (1.2 + 5 * random.uniform());
  const isStepped = kind === "step" || kind === "case" || kind === "over" || kind === "closed";
  const end = kind === "case" ? null : Math.min(frames - 1, at + one(10, 30));
  const hits = new Set(kind === "knocked" ? Array.from({ length: one(1, 5) }, () => one(frames - 25, frames)) : []);
  const wearUm = kind === "wear" ? 0.01 + 0.07 * random.uniform() : 0;
  const life = one(250, 380);
  const points = Array.from({ length: frames }, (_, frame): StreamPoint => {
    const isMoved = isStepped && frame >= at && (kind === "step" || end === null || frame <= end);
    const worn = (wearUm / 1000) * (frame % life);
    const value = hits.has(frame) ? LOWER - 0.01 : 40.975 + SD * (random.normal() + (isMoved ? by : 0)) - worn;
    return {
      inspectionId: idOf(frame),
      serial: serialOf(frame),
      at: FROM + frame * MINUTE * 15,
      value,
      spread: null,
      isOutside: value < LOWER + U || value > UPPER - U,
      verdict: "conforms",
      tool: wearUm > 0 ? `R-${1 + Math.floor(frame / life)}` : null,
      fixture: null,
      inspector: null,
      odd: false,
      gauge: null,
    };
  });
  const cases =
    kind === "case" || kind === "over" || kind === "closed"
      ? [caseOf(7, points, { at, end, state: kind === "closed" ? "closed" : "open", byUm: by * SD * 1000 })]
      : [];
  // Now and then somebody changed the reamer after the newest frame.
  const events: StreamEvent[] =
    kind === "wear" && seed % 3 === 0
      ? [
          {
            id: "event",
            kind: "reamer changed",
            at: new Date(FROM + frames * MINUTE * 15).toISOString(),
            text: "changed",
            subject: null,
          },
        ]
      : [];
  return { points, cases, events, step: kind === "step" ? { at, by } : null };
}

function pageOf({ points, cases, events }: History, frames: number): StreamPage {
  return {
    id: "stream",
    lineId: "line",
    line: "C41",
    lineName: "Line C41",
    operation: "machined",
    operationName: "after machining",
    drawing: PRESS_FIT_41,
    feature: "nds.bore.mean",
    kind: "individuals",
    tolerance: { lower: LOWER, upper: UPPER, uncertainty: U },
    total: points.length,
    points: points.slice(-frames),
    recent: points.slice(-FINDING_FRAMES),
    leftOut: [],
    limits: null,
    baseline: [],
    spreadLimits: null,
    cases,
    earlierSignals: [],
    events,
    siblings: [],
  };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const flaggedOf = (spec: ChartSpec): readonly number[] =>
  spec.series.filter(({ flagged }) => flagged === true).flatMap(({ x }) => x);

/** What a person reads of a stream in one window. */
function look(history: History, frames: number) {
  const page = pageOf(history, frames);
  const reading = readStream(page);
  const { standing, numberOfRecent } = reading;
  return {
    standing,
    headline: standingHeadline(standing, page.feature, numberOfRecent),
    sentence: standingSentence(standing, page.feature, numberOfRecent),
    advice: standingAdvice(standing, { line: page.line, tool: reading.tool }),
    chart: streamFigures(page, reading, { zone: "UTC", nearLimits: false }).main,
  };
}

const HISTORIES = Array.from({ length: 200 }, (_, seed) => {
  const history = historyOf(seed);
  const looked = new Map(WINDOWS.map((frames) => [frames, look(history, frames)]));
  return { seed, history, seen: (frames: (typeof WINDOWS)[number]) => looked.get(frames) ?? look(history, frames) };
});

describe("headline, chart and advice of 200 histories", () => {
  it("say the same whatever is shown", () => {
    for (const { seed, seen } of HISTORIES) {
      const [first, ...others] = WINDOWS.map((frames) => {
        const { standing, headline, sentence, advice } = seen(frames);
        return { standing, headline, sentence, advice };
      });
      for (const other of others) expect(other, `history ${seed}`).toEqual(first);
    }
  });

  it("are strong where a case is open or a frame lies outside, name it, and calm nowhere else", () => {
    const tones = { signal: 0, ok: 0 };
    for (const { seed, history, seen } of HISTORIES) {
      const { points, cases } = history;
      const open = cases.filter(({ state }) => state === "open");
      const closed = new Set(cases.filter(({ state }) => state === "closed").flatMap(({ signals }) => signals));
      const outside = points.slice(-25).filter(({ isOutside, inspectionId }) => isOutside && !closed.has(inspectionId));
      for (const frames of WINDOWS) {
        const { headline, sentence, advice, chart, standing } = seen(frames);
        const of = `history ${seed}, ${frames} frames: ${headline} | ${advice.title}`;
        tones[advice.tone] += 1;
        expect(`${headline} ${sentence} ${advice.title} ${advice.why}`, of).not.toMatch(
          /NaN|undefined|Infinity|\[object/,
        );
        const flagged = flaggedOf(chart);
        if (open.length > 0) {
          expect(advice.tone, of).toBe("signal");
          for (const text of [headline, advice.title, chart.changePoint?.text ?? "", chart.callouts[0]?.text ?? ""])
            expect(text, of).toContain(`case ${open[0]?.number}`);
          expect(headline, of).toContain(open[0]?.found.since.serial);
          expect(chart.changePoint?.text, of).toContain(open[0]?.found.since.serial);
          expect(flagged.length, of).toBeGreaterThan(0);
        } else if (outside.length > 0) {
          expect(advice.tone, of).toBe("signal");
          expect(headline, of).toMatch(
            new RegExp(`^${outside.length} of the newest (frame|${Math.min(points.length, 25)}\\sframes) outside`),
          );
          expect(flagged.length, of).toBe(outside.length);
        } else if (standing.kind !== "forecast") {
          expect(advice.tone, of).toBe("ok");
          expect(flagged, of).toEqual([]);
          expect(chart.callouts, of).toEqual([]);
        }
        if (advice.tone === "ok") expect(advice.title, of).toMatch(/^Nothing to do/);
        if (/^steady|so far$/.test(headline)) {
          expect(chart.changePoint, of).toBeNull();
          expect(advice.tone, of).toBe("ok");
        }
      }
    }
    // Both are there in numbers, so that neither half of the test is empty.
    expect(tones.signal).toBeGreaterThan(150);
    expect(tones.ok).toBeGreaterThan(150);
  });

  it("go the way that the values went, and name a clear step where it was", () => {
    let steps = 0;
    for (const { seed, history, seen } of HISTORIES) {
      const { standing, headline, chart } = seen(FINDING_FRAMES);
      if (standing.kind !== "noticed" || standing.finding.kind !== "moved") continue;
      // Where a tool wears, frames just before the change are those of another tool.
      if (history.points.some(({ tool }) => tool !== null)) continue;
      const recent = history.points.slice(-FINDING_FRAMES).map(({ value }) => value);
      const { since, shape } = standing.finding;
      const difference = mean(recent.slice(-25)) - mean(recent.slice(Math.max(0, since - 25), since));
      expect(headline, `history ${seed}`).toMatch(difference < 0 ? / down since frame / : / up since frame /);
      expect(chart.changePoint?.at, `history ${seed}`).toBe(
        history.points.length - Math.min(FINDING_FRAMES, history.points.length) + since + 0.5,
      );
      if (history.step === null || Math.abs(history.step.by) < 2) continue;
      steps += 1;
      const number = Number(/since frame (\d+)/.exec(headline)?.[1]);
      if (shape === "step") expect(Math.abs(number - 1 - history.step.at), `history ${seed}`).toBeLessThanOrEqual(12);
    }
    expect(steps).toBeGreaterThan(10);
    // A step of two standard deviations with 40 frames behind it is in no headline steady.
    for (const { seed, history, seen } of HISTORIES)
      if (history.step !== null && Math.abs(history.step.by) > 2)
        expect(seen(FINDING_FRAMES).headline, `history ${seed}`).not.toMatch(/^steady/);
  });

  it("ask for a change of the reamer in use alone, and for none that was changed since", () => {
    let asked = 0;
    for (const { seed, history, seen } of HISTORIES) {
      const { standing, advice } = seen(5000);
      if (standing.kind !== "forecast") continue;
      asked += 1;
      expect(history.events, `history ${seed}`).toEqual([]);
      expect(advice.title, `history ${seed}`).toContain(`Change the reamer ${history.points.at(-1)?.tool} `);
    }
    expect(asked).toBeGreaterThan(0);
  });
});
