import { describe, expect, it } from "vitest";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { type LineColumns, runLine } from "@/lib/quality/alarm/run-line";
import {
  type LineWatch,
  NOTHING_WATCHED,
  restartStreams,
  watchFrame,
  type WatchedFrame,
  type WatchSettings,
  type WatchSignal,
} from "@/lib/quality/alarm/watch-line";
import { withDriftingGauge, withKnockedFixture } from "@/lib/simulation/process-faults";
import { simulatedColumns } from "@/tests/helpers/simulated-columns";

const drawing = findDemonstrationDrawing("press-fit-41");
if (!drawing) throw new Error("press-fit-41");

/** A knocked fixture from frame 170 to 220, a gauge that drifts from 260 on. */
const line = simulatedColumns(drawing, 340, {
  seed: 41,
  at: (frame, process, measuring) => ({
    process: frame >= 170 && frame < 220 ? withKnockedFixture(process, 60) : process,
    measuring: frame < 260 ? measuring : withDriftingGauge(measuring, -0.2 * (frame - 260)),
  }),
});

const settingsOf = (columns: LineColumns): WatchSettings => ({
  runLength: () => 8580,
  baselineFrames: 100,
  startAlpha: 0,
  guarded: columns.guarded,
  boreReadings: columns.boreReadings,
  unknownWearSd: 2,
});

function frameOf(columns: LineColumns, place: number): WatchedFrame {
  return {
    id: String(place),
    tool: place < 230 ? "R-1" : "R-2",
    value: (feature) => {
      const value = columns.column(feature)[place] ?? Number.NaN;
      return Number.isNaN(value) ? null : value;
    },
    isFailing: (stream) => columns.isFailing(place, stream),
    isOutside: (stream) => columns.isOutside(place, stream),
  };
}

function watched(
  columns: LineColumns,
  from: LineWatch,
  [first, end]: readonly [number, number],
  settings = settingsOf(columns),
) {
  let watch = from;
  const signals: WatchSignal[] = [];
  for (let place = first; place < end; place++) {
    const step = watchFrame(watch, frameOf(columns, place), settings);
    watch = step.watch;
    signals.push(...step.signals);
  }
  return { watch, signals };
}

const whole = watched(line, NOTHING_WATCHED, [0, line.frames]);

describe("watchFrame", () => {
  it("signals what one run over the whole history does", () => {
    const ages = { ...line, toolAge: (frame: number) => (frame < 230 ? frame + 1 : frame - 229) };
    const run = runLine(ages, { runLength: () => 8580, baselineFrames: 100, wholeAlpha: 0, unknownWearSd: 2 });
    const expected = run.flatMap(({ stream, signals }) =>
      signals.map(({ index, side, test }) => ({ frame: String(index), key: stream.key, side, test })),
    );
    const inOrder = (signals: readonly WatchSignal[]) =>
      signals.map((one) => `${one.key} ${one.frame} ${one.side} ${one.test}`).sort();
    expect(expected.length).toBeGreaterThan(5);
    expect(inOrder(whole.signals)).toEqual(inOrder(expected));
  });

  it.each([1, 7, 100])("goes on from what was stored every %d frames, to the bit", (every) => {
    let watch = NOTHING_WATCHED;
    const signals: WatchSignal[] = [];
    for (let from = 0; from < line.frames; from += every) {
      const part = watched(line, watch, [from, Math.min(line.frames, from + every)]);
      watch = JSON.parse(JSON.stringify(part.watch)) as LineWatch;
      signals.push(...part.signals);
    }
    expect(signals).toEqual(whole.signals);
    expect(watch).toEqual(JSON.parse(JSON.stringify(whole.watch)));
  });

  it("takes another budget from the next frame on, and keeps its sums", () => {
    const before = watched(line, NOTHING_WATCHED, [0, 150]);
    const other = watched(line, before.watch, [150, 151], { ...settingsOf(line), runLength: () => 3000 });
    const bore = (watch: LineWatch) => watch.streams.find(({ key }) => key === "ds.bore.mean")?.running;
    // tests/reference/alarm-thresholds.json: thresholds for 3,000 lie below those for 8,580
    expect(bore(other.watch)?.scheme.thresholds.slow).toBeLessThan(bore(before.watch)?.scheme.thresholds.slow ?? 0);
    expect(bore(other.watch)?.baseline).toEqual(bore(before.watch)?.baseline);
  });

  it("begins streams anew that were told to, and no other", () => {
    const restarted = restartStreams(whole.watch, ["offset"]);
    expect(restarted.streams.find(({ key }) => key === "offset")).toMatchObject({ starting: [], running: null });
    expect(restarted.streams.filter(({ running }) => running === null)).toHaveLength(1);
  });
});

describe("a starting stretch", () => {
  const settings = { ...settingsOf(line), baselineFrames: 50, startAlpha: 0.001 };
  const bores = (step: number, at: number): LineColumns => ({
    ...line,
    column: (feature) =>
      feature.startsWith("ds.bore")
        ? line.column(feature).map((value, place) => (place >= at ? value + step : value))
        : line.column(feature),
  });
  const bore = ({ watch }: { readonly watch: LineWatch }) => watch.streams.find(({ key }) => key === "ds.bore.mean");

  it("that changed early drops what came before", () => {
    const run = bore(watched(bores(0.01, 12), NOTHING_WATCHED, [0, 62], settings));
    expect(run?.running?.baseline[0]).toBe("12");
  });

  it("that changed late is cut there, and the change signals", () => {
    const run = watched(bores(0.01, 35), NOTHING_WATCHED, [0, 50], settings);
    // a rank test places a change of seven standard deviations within two values
    expect(Math.abs((bore(run)?.running?.baseline.length ?? 0) - 35)).toBeLessThanOrEqual(2);
    expect(run.signals.filter(({ key }) => key === "ds.bore.mean").length).toBeGreaterThan(0);
  });

  it("of equal values is tested by ranks, as a file's is: quiet while they stay, found when they leave", () => {
    const leavesAt = 200;
    const equal: LineColumns = {
      ...line,
      column: (feature) =>
        feature === "ds.bore.mean"
          ? line.column(feature).map((_, place) => (place < leavesAt ? 40.95 : 40.96))
          : line.column(feature),
    };
    const quiet = watched(equal, NOTHING_WATCHED, [0, leavesAt], settings);
    expect(bore(quiet)).toMatchObject({ refusal: null, running: { scheme: { kind: "form" } } });
    expect(quiet.signals.filter(({ key }) => key === "ds.bore.mean")).toEqual([]);
    const after = watched(equal, quiet.watch, [leavesAt, leavesAt + 10], settings);
    expect(after.signals.filter(({ key }) => key === "ds.bore.mean").length).toBeGreaterThan(0);
  });
});
