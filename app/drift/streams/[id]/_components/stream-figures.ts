import type { FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import { alignCharts, type ChartEvent, type ChartSpec } from "@/lib/charts/chart-spec";
import { histogramChart, probabilityPlot } from "@/lib/charts/histogram-chart";
import { spreadChart, streamChart, type StreamChartInput } from "@/lib/charts/stream-chart";
import { modelQuantile } from "@/lib/core/distributions/distribution-model";
import { AVERAGE_MEMORY, averagesOf } from "@/lib/quality/control-limits";
import { changeWords } from "@/lib/format/case-words";
import { formatShortDay } from "@/lib/format/date-text";
import { formatFixed, unitText } from "@/lib/format/number-text";
import { featureNamed } from "@/lib/core/metrology/features";
import type { StreamScheme } from "@/lib/quality/alarm/stream-scheme";
import { streamUnit } from "@/lib/format/stream-words";
import type { StreamFinding } from "@/lib/quality/stream-finding";
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

/** No day is longer, also where clocks are set back. */
const LONGEST_DAY_MS = 25 * 3_600_000;

/** First place from `low` on at which something holds that holds at every later place up to `high`. */
function firstPlace(low: number, high: number, holds: (place: number) => boolean): number {
  let [from, to] = [low, high];
  while (from < to) {
    const middle = (from + to) >> 1;
    if (holds(middle)) to = middle;
    else from = middle + 1;
  }
  return from;
}

/** First frame of each day of the plant. Formatting each point would take most of a page's time. */
function daysOf({ points }: StreamPage, { numberOf }: StreamReading, zone: string): { at: number; text: string }[] {
  const days: { at: number; text: string }[] = [];
  const timeOf = (index: number): number => points[index]?.at ?? Infinity;
  for (let index = 0; index < points.length;) {
    const first = timeOf(index);
    const text = formatShortDay(first, zone);
    days.push({ at: numberOf(index), text });
    const end = firstPlace(index + 1, points.length, (place) => timeOf(place) > first + LONGEST_DAY_MS);
    index = firstPlace(index + 1, end, (place) => formatShortDay(timeOf(place), zone) !== text);
  }
  const step = Math.ceil(days.length / MOST_DAYS);
  return days.filter((_, index) => index % step === 0);
}

/** What stands on an event's flag: kind and subject; what is of no kind says itself. */
function tagOf({ kind, subject, text }: StreamPage["events"][number]): string {
  if (kind === "other") return text.length > 28 ? `${text.slice(0, 27)}…` : text;
  return subject === null || subject === "" ? kind : `${kind}, ${subject}`;
}

/** What was done, and where closed cases began; an open one is the change point. */
function eventsOf(stream: StreamPage, { numberOf, standing }: StreamReading): ChartEvent[] {
  const { points, events, cases } = stream;
  const first = points[0]?.at ?? 0;
  const done = events
    .filter(({ at }) => Date.parse(at) >= first)
    .map((event) => ({ at: event.at, text: tagOf(event) }));
  const shown = standing.kind === "case" ? standing.case.id : null;
  const begun = cases
    .filter(({ id, sinceAt }) => id !== shown && Date.parse(sinceAt) >= first)
    .map(({ number, state, sinceAt }) => ({ at: sinceAt, text: texts.caseTag(number, state === "closed") }));
  return [...done, ...begun]
    .toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at))
    .slice(-MOST_TAGS)
    .map(({ at, text }) => ({ at: numberOf(indexAt(points, Date.parse(at))) - 0.5, text }));
}

/** The finding that headline and advice speak of; of a case they speak of that. */
function findingOf({ standing }: StreamReading): Extract<StreamFinding, { kind: "moved" }> | null {
  if (standing.kind !== "noticed" && standing.kind !== "forecast" && standing.kind !== "restless") return null;
  return standing.finding.kind === "moved" ? standing.finding : null;
}

/** A straight piece between two frames, cut off before the first frame shown; nothing where all of it lies before. */
function pieceFrom(
  first: number,
  [from, to]: readonly [number, number],
  [start, end]: readonly [number, number],
): NonNullable<StreamChartInput["fits"]> {
  if (to <= first || to <= from) return [];
  const begin = Math.max(first, from);
  const value = start + ((end - start) * (begin - from)) / (to - from);
  return [{ frame: [begin, to], value: [value, end] }];
}

function fitsOf(reading: StreamReading, last: number): NonNullable<StreamChartInput["fits"]> {
  const finding = findingOf(reading);
  if (finding === null) return [];
  const { from, since, before, now, shape } = finding;
  const { numberOfRecent: at, firstNumber: first } = reading;
  const isDrift = shape === "drift";
  return [
    ...pieceFrom(first, [at(from), at(since - 1)], [before, before]),
    ...pieceFrom(first, [at(since - (isDrift ? 1 : 0)), reading.numberOf(last)], [isDrift ? before : now, now]),
  ];
}

/** Where the change began that the headline names, as far as it is shown. */
function changePointOf(stream: StreamPage, reading: StreamReading, zone: string): ChartSpec["changePoint"] {
  const { points, recent } = stream;
  const { standing, numberOf, numberOfRecent, firstNumber } = reading;
  if (standing.kind === "case") {
    const placeOf = (serial: string) => points.findIndex((point) => point.serial === serial);
    const { since } = standing.case.found;
    const [place, earliest, latest] = [placeOf(since.serial), placeOf(since.earliest), placeOf(since.latest)];
    const start = points[place];
    if (start === undefined) return null;
    return {
      at: numberOf(place) - 0.5,
      text: texts.caseSince(standing.case.number, since.serial, formatShortDay(start.at, zone)),
      from: numberOf(earliest < 0 ? 0 : earliest),
      to: numberOf(latest < 0 ? place : latest),
      intervalText: texts.caseInterval(since.earliest, since.latest),
    };
  }
  const finding = findingOf(reading);
  if (finding === null || numberOfRecent(finding.since) < firstNumber) return null;
  const [since, earliest, latest] = [finding.since, finding.earliest, finding.latest].map(numberOfRecent);
  return {
    at: (since ?? 0) - 0.5,
    text: texts.changePointFrame(since ?? 0, formatShortDay(recent[finding.since]?.at ?? 0, zone)),
    from: Math.max(firstNumber, earliest ?? 0),
    to: latest ?? 0,
    intervalText: texts.changeInterval(earliest ?? 0, latest ?? 0),
  };
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

/** Edges of the region in control, as far as the chart shows what is tested: taper is tested with its sign, charted without. */
function edgesOf({ feature }: StreamPage, scheme: StreamScheme | null): readonly number[] {
  if (scheme === null || featureNamed(feature).characteristic === "taper") return [];
  if (scheme.kind === "form") return [scheme.upper];
  return scheme.kind === "size" ? [scheme.lower, scheme.upper].flatMap((edge) => edge ?? []) : [];
}

/** A chart with the edges from which its stream's sums count. */
function withEdges(spec: ChartSpec, edges: readonly number[]): ChartSpec {
  const shown = edges.filter((value) => value >= spec.yMin && value <= spec.yMax);
  const levels = shown.map((value) => ({
    value,
    text: formatFixed(value, spec.yDecimals),
    name: texts.edge,
    weight: "mean" as const,
  }));
  return { ...spec, levels: [...spec.levels, ...levels] };
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

/** What each flagged point says. */
function flagsOf({ points }: StreamPage, { flags }: StreamReading): StreamChartInput["flagged"] {
  return points.flatMap(({ inspectionId, isOutside }, index) => {
    const number = flags.get(inspectionId);
    if (number === undefined) return [];
    const outside = isOutside ? [texts.outside] : [];
    return [{ index, remark: [...outside, ...(number === null ? [] : [texts.ofCase(number)])].join(", ") }];
  });
}

/** Where the case of the headline was found. */
function calloutsOf(
  stream: StreamPage,
  { standing }: StreamReading,
  flagged: StreamChartInput["flagged"],
): StreamChartInput["callouts"] {
  const [first] = flagged;
  if (standing.kind !== "case" || first === undefined) return [];
  const { number, found } = standing.case;
  const text = texts.found(number, stream.points[first.index]?.serial ?? "");
  return [{ index: first.index, text, detail: changeWords(found.kind, standing.change) }];
}

/** The charts that stand under each other: values, moving range or average, spread within the bore. */
export function streamFigures(
  stream: StreamPage,
  reading: StreamReading,
  options: { readonly zone: string; readonly nearLimits: boolean; readonly scheme?: StreamScheme | null },
): StreamFigures {
  const { points, limits, tolerance, feature } = stream;
  const { numberOf } = reading;
  const { unit, decimals } = streamUnit(feature);
  const shownUnit = unitText(unit);
  const frame = points.map((_, index) => numberOf(index));
  const serial = points.map((point) => point.serial);
  const flagged = flagsOf(stream, reading);
  const left = reading.toolLife?.ok ? reading.toolLife.value : null;
  const forecast = left === null ? null : forecastOf(left, reading, points.length);
  const from = limits === null ? 0 : indexAt(stream.points, Date.parse(limits.baselineFrom));
  const to = limits === null ? -1 : indexAt(stream.points, Date.parse(limits.baselineTo) + 1) - 1;
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
    flagged,
    callouts: calloutsOf(stream, reading, flagged) ?? [],
    days: daysOf(stream, reading, options.zone),
    events: eventsOf(stream, reading),
    changePoint: changePointOf(stream, reading, options.zone),
    fits: fitsOf(reading, points.length - 1),
    forecast: options.nearLimits ? null : forecast,
    now: forecast === null || options.nearLimits ? null : (frame.at(-1) ?? null),
  });
  const beside = (
    values: readonly (number | null)[],
    lines: { readonly centre: number | null; readonly upper: number | null },
    how: Pick<StreamChartInput, "unit" | "decimals">,
  ) => {
    const kept = values.flatMap((value, index) => (value === null ? [] : [{ value, index }]));
    return spreadChart({
      frame: kept.map(({ index }) => numberOf(index)),
      value: kept.map(({ value }) => value),
      serial: kept.map(({ index }) => serial[index] ?? ""),
      upperControl: lines.upper,
      centre: lines.centre,
      ...how,
      flagged: [],
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
            { unit: shownUnit, decimals },
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
  const edges = edgesOf(stream, options.scheme ?? null);
  const drawn = { main: withEdges(renamed(main, stream.kind), edges), movingRange, average, spread };
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

/** Place of the first recent frame after the change that the headline names; null where there is none, or it is long ago. */
export function histogramSince({ recent }: StreamPage, reading: StreamReading): number | null {
  const { standing } = reading;
  if (standing.kind !== "case") return findingOf(reading)?.since ?? null;
  const place = recent.findIndex(({ serial }) => serial === standing.case.found.since.serial);
  return place < 0 ? null : place;
}

/** Frames by value: the baseline with its fitted curve, and what came since the change (or the frames shown). */
export function histogramFigure(stream: StreamPage, reading: StreamReading): ChartSpec | null {
  const later = stream.recent.slice(histogramSince(stream, reading) ?? -100).map((point) => point.value);
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
