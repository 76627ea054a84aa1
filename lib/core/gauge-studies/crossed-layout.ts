import { CoreError, type Estimate } from "../errors";

/** One reading of a study: who measured what the how manieth time. */
export type StudyReading = Readonly<{ part: string; inspector: string; trial: string; value: number }>;

/** A complete study: every inspector measured every part as often as the others. */
export type CrossedLayout = Readonly<{
  /** In the order in which they came. */
  parts: readonly string[];
  inspectors: readonly string[];
  trials: readonly string[];
  /** Reading of part p, inspector o, trial k at (p * inspectors + o) * trials + k. */
  values: readonly number[];
}>;

/** Cells that a reason names one by one. */
const MOST_NAMED = 5;

const placesOf = (names: readonly string[]) => new Map([...new Set(names)].map((name, place) => [name, place]));

/** Words for the cells that have no reading. */
function missingWords(missing: readonly string[]): string {
  const named = missing.slice(0, MOST_NAMED).join("; ");
  const more = missing.length > MOST_NAMED ? ` and ${missing.length - MOST_NAMED} more` : "";
  return `Readings are missing: ${named}${more}. Every inspector has to measure every part as often as the others; measure what is missing, or leave out that part.`;
}

/**
 * Sorts the readings of a study into parts, inspectors and trials.
 *
 * @param readings - in any order, values finite, each part, inspector and trial once
 * @returns the layout, or the reason why it is none: fewer than two parts, inspectors or trials, or missing readings
 * @throws CoreError duplicate, not-finite
 */
export function crossedLayout(readings: readonly StudyReading[]): Estimate<CrossedLayout> {
  const [parts, inspectors, trials] = (["part", "inspector", "trial"] as const).map((key) =>
    placesOf(readings.map((reading) => reading[key])),
  ) as [Map<string, number>, Map<string, number>, Map<string, number>];
  if (parts.size < 2)
    return {
      ok: false,
      reason: `A study needs at least two parts; there ${parts.size === 1 ? "is one" : "are none"}.`,
    };
  if (inspectors.size < 2)
    return {
      ok: false,
      reason:
        "There is one inspector only: what differs between inspectors cannot be seen. Let a second one measure the same parts.",
    };
  if (trials.size < 2)
    return {
      ok: false,
      reason:
        "Every part was measured once only: nothing repeats. Measure each part at least twice with each inspector.",
    };
  const values = new Array<number | undefined>(parts.size * inspectors.size * trials.size).fill(undefined);
  readings.forEach(({ part, inspector, trial, value }, index) => {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `crossedLayout: value must be finite; got ${value} (at index ${index})`);
    const place = (parts.get(part)! * inspectors.size + inspectors.get(inspector)!) * trials.size + trials.get(trial)!;
    if (values[place] !== undefined)
      throw new CoreError(
        "duplicate",
        `crossedLayout: each reading must be there once; got part ${part}, inspector ${inspector}, trial ${trial} twice (at index ${index})`,
      );
    values[place] = value;
  });
  const names = [[...parts.keys()], [...inspectors.keys()], [...trials.keys()]] as const;
  const missing = values.flatMap((value, place) => {
    if (value !== undefined) return [];
    const cell = Math.floor(place / trials.size);
    const part = names[0][Math.floor(cell / inspectors.size)];
    return [`part ${part}, inspector ${names[1][cell % inspectors.size]}, trial ${names[2][place % trials.size]}`];
  });
  if (missing.length > 0) return { ok: false, reason: missingWords(missing) };
  return {
    ok: true,
    warnings: [],
    value: { parts: names[0], inspectors: names[1], trials: names[2], values: values as number[] },
  };
}
