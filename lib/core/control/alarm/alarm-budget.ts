import { CoreError } from "../../errors";

/** A stream that takes its part of the budget. */
export type BudgetedStream = Readonly<{
  id: string;
  /** Frames in the period of the budget, >= 0. */
  frames: number;
  /** How large its part is beside those of the others, > 0; 1 by default. */
  weight?: number;
}>;

/** Mean number of frames between false alarms that a stream gets. */
export type StreamShare = Readonly<{ id: string; runLength: number }>;

export type AlarmBudget = Readonly<{
  streams: readonly StreamShare[];
  /** False alarms in the period that all of them together have: over the budget where a stream was kept at the least. */
  expected: number;
}>;

/** No stream gets a shorter run length than limits at three standard deviations have. */
export const SHORTEST_ALARM_RUN = 370;

/**
 * Spreads a budget of false alarms over streams.
 * Formula: A_i = f_i sum(w) / (B w_i), so that sum f_i / A_i = B; never under 370.
 *
 * @param streams - at least one, each id once
 * @param budget - false alarms in the period of all streams together, > 0
 * @returns run length of each stream in the order given, and the sum of f_i / A_i
 * @throws CoreError too-few-values, out-of-range, duplicate
 * Method: rates are added (union bound), never divided by an effective number: correlated streams then stay within the budget.
 * @example alarmBudget([{ id: "a", frames: 165 }, ...51 more], 1).streams[0].runLength // 8580
 */
export function alarmBudget(streams: readonly BudgetedStream[], budget: number): AlarmBudget {
  if (streams.length === 0) throw new CoreError("too-few-values", "alarmBudget: streams must be at least 1; got 0");
  if (!(budget > 0 && budget < Infinity))
    throw new CoreError("out-of-range", `alarmBudget: budget must be above 0; got ${budget}`, { budget });
  const ids = new Set<string>();
  let weights = 0;
  for (const { id, frames, weight = 1 } of streams) {
    if (ids.has(id)) throw new CoreError("duplicate", `alarmBudget: each stream must be given once; got ${id} twice`);
    ids.add(id);
    if (!(frames >= 0 && frames < Infinity) || !(weight > 0 && weight < Infinity))
      throw new CoreError(
        "out-of-range",
        `alarmBudget: frames must be >= 0 and weight above 0; got ${frames} and ${weight} of ${id}`,
      );
    weights += weight;
  }
  const shares = streams.map(({ id, frames, weight = 1 }) => ({
    id,
    runLength: Math.max(SHORTEST_ALARM_RUN, (frames * weights) / (budget * weight)),
  }));
  const expected = streams.reduce((sum, { frames }, index) => sum + frames / shares[index]!.runLength, 0);
  return { streams: shares, expected };
}
