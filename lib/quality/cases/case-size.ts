import { CoreError } from "../../core/errors";
import { sampleMean } from "../../core/numerics/descriptive-statistics";
import type { CaseChange, CaseKind } from "./case";
import type { ScoredStream } from "./score-streams";

/** Frames ahead that a forecast looks at. */
const HORIZON = 100_000;

function valueAt({ stream, role }: ScoredStream, place: number): number | null {
  const value = stream.values[place] ?? null;
  return value === null ? null : value / role.perUnit;
}

/** Change a frame of a line that leaves the centre of the baseline at the frame before `start`. */
function slopeOf(scored: ScoredStream, places: readonly number[], start: number): number {
  let [product, squares] = [0, 0];
  for (const place of places) {
    const value = valueAt(scored, place);
    if (value === null) continue;
    const age = place - start + 1;
    product += age * (value - scored.usualAt(place));
    squares += age * age;
  }
  return squares > 0 ? product / squares : 0;
}

/** Size of a stream's change over the changed frames: of a step or frames the mean distance, of a trend the slope, of a spread its factor. */
export function changeOf(scored: ScoredStream, kind: CaseKind, start: number, places: readonly number[]): CaseChange {
  const { unit } = scored.role;
  if (kind === "trend") return { value: slopeOf(scored, places, start), unit, each: "frame" };
  const moved = places.flatMap((place) => {
    const value = valueAt(scored, place);
    return value === null ? [] : [value - scored.usualAt(place)];
  });
  if (kind === "spread" && !scored.stream.isForm) {
    const root = Math.sqrt(moved.reduce((sum, value) => sum + value * value, 0) / Math.max(1, moved.length));
    return { value: root / scored.sd, unit: null, each: "factor" };
  }
  return { value: moved.length === 0 ? 0 : sampleMean(moved), unit, each: "change" };
}

/**
 * Change of the offset vector: the length of what its components moved, or the common factor of their spreads.
 *
 * @param components - of the vector, one or both
 * @returns the change, and the clock hour to which it went
 */
export function vectorChangeOf(
  components: readonly ScoredStream[],
  kind: CaseKind,
  start: number,
  places: readonly number[],
): { readonly change: CaseChange; readonly towards: number | null } {
  const changes = components.map((component) => ({
    isTwelve: component.role.component === "12",
    change: changeOf(component, kind, start, places),
  }));
  const [first] = changes;
  if (first === undefined)
    throw new CoreError("too-few-values", "vectorChangeOf: components must be at least 1; got 0");
  const length = Math.hypot(...changes.map(({ change: { value } }) => value));
  if (first.change.unit === null)
    return { change: { ...first.change, value: length / Math.sqrt(changes.length) }, towards: null };
  const along = (isTwelve: boolean) => changes.find((one) => one.isTwelve === isTwelve)?.change.value ?? 0;
  const hours = (Math.atan2(along(false), along(true)) * 6) / Math.PI;
  return { change: { ...first.change, value: length }, towards: (hours + 12) % 12 };
}

/**
 * Frames until a stream's trend meets its guarded limit.
 *
 * @returns 0 where its level is there already; null for a change that does not go on, a stream without that limit, or one that does not
 *   get there within 100,000 frames
 */
export function framesToLimit(
  scored: ScoredStream,
  kind: CaseKind,
  start: number,
  last: number,
  now: number,
): number | null {
  if (kind !== "trend") return null;
  const places = Array.from({ length: last - start + 1 }, (_, at) => start + at);
  const slope = slopeOf(scored, places, start);
  if (!(Math.abs(slope) > 0)) return null;
  const limit = slope > 0 ? scored.stream.upper : scored.stream.lower;
  if (limit === null) return null;
  const ahead = (limit / scored.role.perUnit - scored.usualAt(now)) / slope - (now - start + 1);
  return ahead > HORIZON ? null : Math.max(0, Math.ceil(ahead));
}
