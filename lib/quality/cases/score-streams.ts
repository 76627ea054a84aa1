import { extendedScore } from "../../core/control/cases/extended-score";
import { valueGrid } from "../../core/distributions/rounded-sample";
import { sampleMean, sampleSd } from "../../core/numerics/descriptive-statistics";
import { followWear, ordinarySlope } from "../alarm/follow-wear";
import type { CaseFeature, CaseLine, CaseStream } from "./case";
import { streamRole, type StreamRole } from "./stream-kind";

/** A stream standardised by the frames of its baseline before a place. Levels, sd and wander in the role's unit (µm, arcmin). */
export type ScoredStream = {
  readonly feature: CaseFeature;
  readonly role: StreamRole;
  readonly stream: CaseStream;
  /** Where the stream would be at a place without a change: its centre, of a tool that wears its line. */
  readonly usualAt: (place: number) => number;
  readonly sd: number;
  /** Ordinary differences between shifts in standard deviations of one frame. */
  readonly wander: number;
  /** Standard deviation of the level that a stretch of frames may be off by without a change: wander, and the baseline's own error. */
  readonly levelError: number;
  /** One per frame of the line. */
  readonly scores: readonly (number | null)[];
  /** Places of its baseline that were used. */
  readonly baseline: readonly number[];
};

/** Baseline frames without which a stream is left out of a case. A choice, no source. */
export const FEWEST_BASELINE = 12;
/** Frames of a block, about a shift, and blocks without which their differences are not estimated. Choices, no source. */
const BLOCK = 25;
const FEWEST_BLOCKS = 3;

/** Frames of one tool without which its wear is not followed. A choice, no source. */
const FEWEST_WORN = 40;

type Usual = { readonly usualAt: (place: number) => number; readonly places: readonly number[] };

/** The baseline's frames of the tool in use with the line of its ordinary wear; else all with their mean. */
function usualOf(
  line: CaseLine,
  baseline: readonly number[],
  valueAt: (place: number) => number,
  isBore: boolean,
  wander: number,
): Usual {
  const level = sampleMean(baseline.map(valueAt));
  const flat = { usualAt: () => level, places: baseline };
  const last = baseline.at(-1);
  if (!isBore || last === undefined) return flat;
  const toolAt = (place: number) => line.frames[place]?.labels.tool ?? null;
  const changes = line.events.filter(({ kind, place }) => kind === "tool" && place <= last).map(({ place }) => place);
  const from = Math.max(0, ...changes);
  const places = baseline.filter((place) => place >= from && toolAt(place) === toolAt(last));
  if (places.length < FEWEST_WORN) return flat;
  const stretch = places.map((place) => ({ age: place, value: valueAt(place) }));
  const values = stretch.map(({ value }) => value);
  const sd = sampleSd(values);
  if (!(sd > 1e-9 * Math.abs(level))) return flat;
  const followed = followWear(stretch, sd, wander);
  const [centre, slope] = [sampleMean(values), ordinarySlope(followed)];
  const lineAt = (place: number): number => centre + slope * (place - followed.middle);
  const after = line.events.find(({ kind, place }) => kind === "tool" && place > last)?.place ?? Infinity;
  const isOfTool = (place: number): boolean => place >= from && place < after && toolAt(place) === toolAt(last);
  return { usualAt: (place) => (isOfTool(place) ? lineAt(place) : level), places };
}

/** Standard deviation of block means beyond what single frames explain, in standard deviations of one frame. */
function wanderOf(scores: readonly number[]): number {
  const blocks = Math.floor(scores.length / BLOCK);
  if (blocks < FEWEST_BLOCKS) return 0;
  const means = Array.from({ length: blocks }, (_, at) => sampleMean(scores.slice(at * BLOCK, (at + 1) * BLOCK)));
  return Math.sqrt(Math.max(0, sampleSd(means) ** 2 - 1 / BLOCK));
}

/**
 * The streams of a line that cases look at, standardised.
 *
 * @param before - baseline frames from this place on are not used: they may belong to the change
 * @param upTo - frames from this place on are not looked at
 * @returns streams with too short a baseline, or without variation in it, are left out
 */
export function scoreStreams(line: CaseLine, before: number, upTo: number): ScoredStream[] {
  return line.streams.flatMap((stream) => {
    const role = streamRole(stream.feature);
    if (role === null) return [];
    const baseline = stream.baseline.filter((place) => place < before && (stream.values[place] ?? null) !== null);
    if (baseline.length < FEWEST_BASELINE) return [];
    const valueAt = (place: number): number => (stream.values[place] ?? 0) / role.perUnit;
    const { usualAt, places } = usualOf(line, baseline, valueAt, role.kind === "bore", stream.wander / role.perUnit);
    const own = places.map((place) => valueAt(place) - usualAt(place));
    // A gauge that shows one value for all knows them to its step no better.
    const step = valueGrid(stream.values.flatMap((value) => value ?? []))?.step ?? 0;
    const sd = Math.max(sampleSd(own), step / role.perUnit / Math.sqrt(12));
    if (!(sd > 1e-9 * Math.max(1, Math.abs(usualAt(places[0] ?? 0))))) return [];
    const score = stream.isForm
      ? extendedScore(
          own.toSorted((a, b) => a - b),
          sd,
        )
      : (value: number) => value / sd;
    const scores = stream.values
      .slice(0, upTo)
      .map((value, place) => (value === null ? null : score(value / role.perUnit - usualAt(place))));
    const given = stream.wander / role.perUnit / sd;
    const wander = Math.max(given, wanderOf(own.map(score)));
    const levelError = Math.hypot(wander, 1 / Math.sqrt(places.length));
    return [{ feature: stream.feature, role, stream, usualAt, sd, wander, levelError, scores, baseline: places }];
  });
}
