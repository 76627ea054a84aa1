import type { FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import { alignCharts, type ChartEvent, type ChartSpec } from "@/lib/charts/chart-spec";
import { histogramChart, probabilityPlot } from "@/lib/charts/histogram-chart";
import { spreadChart, streamChart, type StreamChartInput } from "@/lib/charts/stream-chart";
import { modelQuantile } from "@/lib/core/distributions/distribution-model";
import { AVERAGE_MEMORY, AVERAGE_RULE, averagesOf } from "@/lib/quality/control-limits";
import { formatShortDay } from "@/lib/format/date-text";
import { unitText } from "@/lib/format/number-text";
import { ruleWords, streamUnit } from "@/lib/format/stream-words";
import { streamHistogram, streamModel } from "@/lib/quality/stream-histogram";
import type { StreamPage } from "@/lib/server/drift/queries";
import { indexAt, type StreamReading } from "./stream-reading";
import { STREAM_WORDS } from "../../words";

const texts = STREAM_WORDS.figures;

const MOST_DAYS = 9;
/** Share of the chart that a forecast may take. */
const FORECAST_SHARE = 0.35;
/** Frames beyond which each is drawn without its own events' tags. */
const MOST_TAGS = 12;

function daysOf(stream: StreamPage, { numberOf }: StreamReading, zone: string): { at: number; text: string }[] {
  const days = stream.points.flatMap((point, index) => {
    const text = formatShortDay(point.at, zone);
    const before = stream.points[index - 1];
    return before !== undefined && formatShortDay(before.at, zone) === text ? [] : [{ at: numberOf(index), text }];
  });
  const step = Math.ceil(days.length / MOST_DAYS);
  return days.filter((_, index) => index % step === 0);
}

/** What stands on an event's flag: kind and subject; what is of no kind says itself. */
function tagOf({ kind, subject, text }: StreamPage["events"][number]): string {
  if (kind === "other") return text.length > 28 ? `${text.slice(0, 27)}…` : text;
  return subject === null || subject === "" ? kind : `${kind}, ${subject}`;
}

function eventsOf(stream: StreamPage, { numberOf }: StreamReading): ChartEvent[] {
  return stream.events.slice(-MOST_TAGS).map((event) => ({
    at: numberOf(indexAt(stream, Date.parse(event.at))) - 0.5,
    text: tagOf(event),
  }));
}

function fitsOf({ finding, numberOf }: StreamReading, last: number): NonNullable<StreamChartInput["fits"]> {
  if (finding.kind !== "moved") return [];
  const { from, since, before, now, shape } = finding;
  return [
    { frame: [numberOf(from), numberOf(since - 1)], value: [before, before] },
    {
      frame: [numberOf(since - (shape === "drift" ? 1 : 0)), numberOf(last)],
      value: [shape === "drift" ? before : now, now],
    },
  ];
}

/** The forecast as far as the chart has room for it; nothing where the limit is far away. */
function forecastOf(left: FramesLeft, reading: StreamReading, shown: number): StreamChartInput["forecast"] {
  const room = Math.round(shown * FORECAST_SHARE);
  const inside = left.bound.filter(({ framesAhead }) => framesAhead <= room);
  if (left.estimate > room * 3 || inside.length < 2) return null;
  const last = reading.numberOf(shown - 1);
  const lower = left.limit === "lower";
  return {
    frame: inside.map(({ framesAhead }) => last + framesAhead),
    value: inside.map(({ line }) => line),
    lower: inside.map(({ line, bound }) => (lower ? bound : 2 * line - bound)),
    upper: inside.map(({ line, bound }) => (lower ? 2 * line - bound : bound)),
    reach:
      left.estimate > room
        ? null
        : {
            y: left.limitValue,
            from: last + left.interval[0],
            to: last + Math.min(left.interval[1] ?? room, room),
            at: last + left.estimate,
            text: texts.meanNotProven(
              Math.round(left.interval[0]),
              left.interval[1] === null ? texts.many : Math.round(left.interval[1]),
            ),
          },
  };
}

/** Names of lines that a skewed stream has: its centre is a median. */
function renamed(spec: ChartSpec, kind: StreamPage["kind"]): ChartSpec {
  if (kind === "individuals") return spec;
  const levels = spec.levels.map((level) => (level.weight === "mean" ? { ...level, name: "baseline median" } : level));
  return { ...spec, levels };
}

export type StreamFigures = {
  readonly main: ChartSpec;
  readonly movingRange: ChartSpec | null;
  /** The one-sided average of a form deviation. */
  readonly average: ChartSpec | null;
  readonly spread: ChartSpec | null;
};

/** What the signals say of each point, by the chart on which they are seen. */
function remarksOf(stream: StreamPage) {
  const place = new Map(stream.points.map((point, index) => [point.inspectionId, index]));
  const remarks = { values: new Map<number, string[]>(), average: new Map<number, string[]>() };
  for (const signal of stream.signals) {
    const index = place.get(signal.inspectionId);
    if (index === undefined || signal.state !== "open") continue;
    const ofAverage = signal.rule === AVERAGE_RULE && (stream.limits?.average ?? null) !== null;
    const of = ofAverage ? remarks.average : remarks.values;
    of.set(index, [...(of.get(index) ?? []), ruleWords(signal.rule, signal.side)]);
  }
  return remarks;
}

const flagsOf = (remarks: ReadonlyMap<number, readonly string[]>): StreamChartInput["flagged"] =>
  [...remarks].map(([index, words]) => ({ index, remark: words.join("; ") }));

/** The charts that stand under each other: values, moving range or average, spread within the bore. */
export function streamFigures(
  stream: StreamPage,
  reading: StreamReading,
  options: { readonly zone: string; readonly nearLimits: boolean },
): StreamFigures {
  const { points, limits, tolerance, feature } = stream;
  const { finding, numberOf } = reading;
  const { unit, decimals } = streamUnit(feature);
  const shownUnit = unitText(unit);
  const frame = points.map((_, index) => numberOf(index));
  const serial = points.map((point) => point.serial);
  const remarks = remarksOf(stream);
  const flags = remarks.values;
  const firstFlag = [...flags.keys()].sort((a, b) => a - b)[0];
  const left = reading.toolLife?.ok ? reading.toolLife.value : null;
  const forecast = left === null ? null : forecastOf(left, reading, points.length);
  const from = limits === null ? 0 : indexAt(stream, Date.parse(limits.baselineFrom));
  const to = limits === null ? -1 : indexAt(stream, Date.parse(limits.baselineTo) + 1) - 1;
  const main = streamChart({
    frame,
    value: points.map((point) => point.value),
    serial,
    unit: shownUnit,
    decimals,
    lower: options.nearLimits ? null : (tolerance?.lower ?? null),
    upper: options.nearLimits ? null : (tolerance?.upper ?? null),
    guard: options.nearLimits ? 0 : (tolerance?.uncertainty ?? 0),
    centre: limits?.center ?? null,
    lowerControl: limits?.lower ?? null,
    upperControl: limits?.upper ?? null,
    baseline: limits !== null && to > from ? { from: numberOf(from), to: numberOf(to) } : null,
    flagged: flagsOf(flags),
    callouts:
      firstFlag === undefined
        ? []
        : [
            {
              index: firstFlag,
              text: texts.firstSignal(serial[firstFlag]),
              detail: flags.get(firstFlag)?.[0] ?? "",
            },
          ],
    days: daysOf(stream, reading, options.zone),
    events: eventsOf(stream, reading),
    changePoint:
      finding.kind !== "moved"
        ? null
        : {
            at: numberOf(finding.since) - 0.5,
            text: texts.changePointFrame(
              numberOf(finding.since),
              formatShortDay(points[finding.since]?.at ?? 0, options.zone),
            ),
            from: numberOf(finding.earliest),
            to: numberOf(finding.latest),
            intervalText: texts.changeInterval(numberOf(finding.earliest), numberOf(finding.latest)),
          },
    fits: fitsOf(reading, points.length - 1),
    forecast: options.nearLimits ? null : forecast,
    now: forecast === null || options.nearLimits ? null : (frame.at(-1) ?? null),
  });
  const beside = (
    values: readonly (number | null)[],
    lines: { readonly centre: number | null; readonly upper: number | null },
    how: Pick<StreamChartInput, "unit" | "decimals"> & { readonly flagged?: StreamChartInput["flagged"] },
  ) => {
    const kept = values.flatMap((value, index) => (value === null ? [] : [{ value, index }]));
    const placeOf = new Map(kept.map(({ index }, at) => [index, at]));
    return spreadChart({
      frame: kept.map(({ index }) => numberOf(index)),
      value: kept.map(({ value }) => value),
      serial: kept.map(({ index }) => serial[index] ?? ""),
      upperControl: lines.upper,
      centre: lines.centre,
      ...how,
      flagged: (how.flagged ?? []).flatMap(({ index, remark }) => {
        const at = placeOf.get(index);
        return at === undefined ? [] : [{ index: at, remark }];
      }),
    });
  };
  const scale = unit === "mm" ? 1000 : 1;
  const scaled = (value: number | null) => (value === null ? null : value * scale);
  const movingRange =
    stream.kind !== "individuals" || points.length < 3
      ? null
      : beside(
          points.map((point, index) => {
            const before = points[index - 1];
            return before === undefined ? null : Math.abs(point.value - before.value) * scale;
          }),
          { centre: scaled(limits?.rangeCenter ?? null), upper: scaled(limits?.rangeUpper ?? null) },
          { unit: unit === "mm" ? "µm" : shownUnit, decimals: 1 },
        );
  const ewma = limits?.average ?? null;
  // Of the first frames shown, the average rests on frames before them.
  const known = numberOf(0) > 1 ? AVERAGE_MEMORY - 1 : 0;
  const values = points.map((point) => point.value);
  const average =
    ewma === null || points.length < known + 3
      ? null
      : renamed(
          beside(
            averagesOf(ewma, values).map((value, index) => (index < known ? null : value)),
            { centre: ewma.start, upper: ewma.limit },
            { unit: shownUnit, decimals, flagged: flagsOf(remarks.average) },
          ),
          "individuals",
        );
  const spread = points.some((point) => point.spread !== null)
    ? renamed(
        beside(
          points.map((point) => point.spread),
          { centre: stream.spreadLimits?.center ?? null, upper: stream.spreadLimits?.upper ?? null },
          { unit: "µm", decimals: 1 },
        ),
        "individuals",
      )
    : null;
  const drawn = { main: renamed(main, stream.kind), movingRange, average, spread };
  const specs = Object.entries(drawn).flatMap(([name, spec]) => (spec === null ? [] : [{ name, spec }]));
  const aligned = alignCharts(specs.map(({ spec }) => spec));
  const byName = new Map(specs.map(({ name }, index) => [name, aligned[index] ?? null]));
  const alignedAs = (name: keyof StreamFigures) => byName.get(name) ?? null;
  return {
    main: alignedAs("main") ?? main,
    movingRange: alignedAs("movingRange"),
    average: alignedAs("average"),
    spread: alignedAs("spread"),
  };
}

/** Frames by value: the baseline with its fitted curve, and what came since the change (or the frames shown). */
export function histogramFigure(stream: StreamPage, reading: StreamReading): ChartSpec | null {
  const { finding } = reading;
  const later = stream.points.slice(finding.kind === "moved" ? finding.since : -100).map((point) => point.value);
  const first = stream.baseline.length > 1 ? stream.baseline : stream.points.map((point) => point.value);
  const found = streamHistogram(stream.kind, first, stream.baseline.length > 1 ? later : []);
  if (found === null) return null;
  const { unit, decimals } = streamUnit(stream.feature);
  return histogramChart({
    edges: found.edges,
    counts: found.counts,
    ...(found.later === null ? {} : { laterCounts: found.later }),
    curve: found.curve,
    lower: stream.tolerance?.lower ?? null,
    upper: stream.tolerance?.upper ?? null,
    unit: unitText(unit),
    decimals,
  });
}

/** Values of the baseline against what the fitted distribution expects. */
export function probabilityFigure(stream: StreamPage): ChartSpec | null {
  const values = (stream.baseline.length > 1 ? stream.baseline : stream.points.map((point) => point.value)).toSorted(
    (a, b) => a - b,
  );
  const model = streamModel(stream.kind, values);
  if (model === null) return null;
  const { unit, decimals } = streamUnit(stream.feature);
  return probabilityPlot({
    value: values,
    // Blom 1958: (i - 3/8) / (n + 1/4).
    quantile: values.map((_, index) => modelQuantile(model, (index + 0.625) / (values.length + 0.25))),
    serial: values.map((_, index) => texts.ofCount(index + 1, values.length)),
    unit: unitText(unit),
    decimals,
  });
}
