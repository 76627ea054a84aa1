import { alignCharts, type ChartSpec } from "@/lib/charts/chart-spec";
import { streamChart } from "@/lib/charts/stream-chart";
import { formatShortDay } from "@/lib/format/date-text";
import { unitText } from "@/lib/format/number-text";
import { streamUnit } from "@/lib/format/stream-words";
import type { FeatureName } from "@/lib/core/metrology/features";
import { offsetAlong } from "@/lib/quality/cases/case-series";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import type { CaseFrames } from "@/lib/server/cases/case-frames";
import { CASE_WORDS } from "../words";

const words = CASE_WORDS.picture;
const MOST_DAYS = 6;

const meanOf = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/** A frame is outside in one stream of its case, and may be inside in the others. */
const isBeyond = (value: number, tolerance: CaseFrames["streams"][number]["tolerance"]): boolean =>
  value < (tolerance?.lower ?? Number.NEGATIVE_INFINITY) || value > (tolerance?.upper ?? Number.POSITIVE_INFINITY);

/** "offset": along the direction in which it moved. */
export type CasePicture = Readonly<{ feature: FeatureName | "offset"; spec: ChartSpec }>;

/** The offset along its direction as a stream of its own; nothing where the case is not about it. */
function offsetStream({ towards }: FoundCase, { frames, zoneUm }: CaseFrames) {
  if (towards === null) return [];
  const tolerance = zoneUm === null ? null : { lower: null, upper: zoneUm / 2, uncertainty: 0 };
  const values = offsetAlong(
    frames.map(({ offset }) => offset),
    towards,
  );
  return [{ feature: "offset" as const, values, tolerance }];
}

/**
 * The streams of a case under each other on one axis of frames: since when, how sure that is, and what was done at the time.
 *
 * @returns one picture a stream with values; none where the first frame of the case is not among the frames
 */
export function casePictures(found: FoundCase, given: CaseFrames, zone: string): readonly CasePicture[] {
  const { frames } = given;
  const streams = [...offsetStream(found, given), ...given.streams];
  const placeOf = (serial: string): number => frames.findIndex((frame) => frame.serial === serial);
  const since = placeOf(found.since.serial);
  if (since < 0) return [];
  const ends = [placeOf(found.since.earliest), placeOf(found.since.latest)].map((place) => (place < 0 ? since : place));
  const [earliest = since, latest = since] = ends;
  const until = found.until === null ? frames.length - 1 : Math.max(since, placeOf(found.until));
  const outside = new Set(found.outside);
  const days = frames.flatMap((frame, index) => {
    const text = formatShortDay(frame.at, zone);
    const last = frames[index - 1];
    return last !== undefined && formatShortDay(last.at, zone) === text ? [] : [{ at: index + 1, text }];
  });
  const step = Math.max(1, Math.ceil(days.length / MOST_DAYS));
  const events = found.events.flatMap(({ at, text }) => {
    const next = frames.findIndex((frame) => frame.at >= Date.parse(at));
    return next < 0 ? [] : [{ at: next + 0.5, text: text.length > 32 ? `${text.slice(0, 31)}…` : text }];
  });
  const drawn = streams.flatMap(({ feature, values, tolerance }) => {
    const kept = values.flatMap((value, place) => (value === null ? [] : [{ value, place }]));
    if (kept.length === 0) return [];
    const { unit, decimals } = streamUnit(feature === "offset" ? "coaxiality" : feature);
    const level = (from: number, to: number) => {
      const inside = kept.filter(({ place }) => place >= from && place <= to).map(({ value }) => value);
      if (inside.length < 2 || found.kind !== "step") return [];
      const mean = meanOf(inside);
      return [{ frame: [from + 1, to + 1], value: [mean, mean] }];
    };
    const spec = streamChart({
      frame: kept.map(({ place }) => place + 1),
      value: kept.map(({ value }) => value),
      serial: kept.map(({ place }) => frames[place]?.serial ?? ""),
      unit: unitText(unit),
      decimals,
      lower: tolerance?.lower ?? null,
      upper: tolerance?.upper ?? null,
      guard: tolerance?.uncertainty ?? 0,
      centre: null,
      lowerControl: null,
      upperControl: null,
      baseline: null,
      flagged: kept.flatMap(({ place, value }, index) =>
        outside.has(frames[place]?.serial ?? "") && isBeyond(value, tolerance)
          ? [{ index, remark: words.outside }]
          : [],
      ),
      fits: [...level(0, since - 1), ...level(since, until)],
    });
    return [{ feature, spec }];
  });
  const span = {
    kind: "baseline",
    fromX: earliest + 0.5,
    toX: latest + 1.5,
    fromY: null,
    toY: null,
    text: "",
  } as const;
  const specs = drawn.map(({ spec }, index): ChartSpec => ({
    ...spec,
    xMarks: index === drawn.length - 1 ? days.filter((_, day) => day % step === 0) : [],
    bands: [span, ...spec.bands],
    changePoint:
      index > 0
        ? null
        : {
            at: since + 0.5,
            text: words.since(found.since.serial),
            from: earliest + 0.5,
            to: latest + 1.5,
            intervalText: words.between(found.since.earliest, found.since.latest),
          },
    events: index === drawn.length - 1 ? events : [],
  }));
  return alignCharts(specs).flatMap((spec, index) => {
    const feature = drawn[index]?.feature;
    return feature === undefined ? [] : [{ feature, spec }];
  });
}
