import { average, standardDeviation } from "../core/control/point-statistics";
import { noncentralityFromT } from "../core/distributions/noncentral-t";
import { APPROVABLE_FRAMES, PROVISIONAL_FRAMES } from "./control-limits";

/**
 * Values that are held against each limit: of a bore the smallest of each seat against the lower one and the largest against
 * the upper one, since every two-point size is judged.
 */
export type CapabilityInput = {
  readonly lower: number | null;
  readonly upper: number | null;
  readonly againstLower: readonly number[];
  readonly againstUpper: readonly number[];
  /** Signals of the stream: capability describes a process that is stable. */
  readonly signals: number;
};

/** Capability with its 95 % interval, or why there is none. */
export type StreamCapability =
  | {
      readonly ok: true;
      readonly ppk: number;
      readonly interval: readonly [lower: number, upper: number];
      /** The limit that decides. */
      readonly limit: "lower" | "upper";
      readonly frames: number;
      readonly provisional: boolean;
      readonly method: string;
      readonly warnings: readonly string[];
    }
  | { readonly ok: false; readonly reason: string };

/** Most signals per frame that a stable process may show by chance: about one in ninety, taken three times over. */
const SIGNALS_BY_CHANCE = 1 / 30;

type OneSided = { readonly ppk: number; readonly interval: readonly [number, number] };

/** One-sided index of a normal process with its exact interval. */
function oneSided(distance: number, sd: number, n: number): OneSided {
  const ppk = distance / (3 * sd);
  const t = 3 * Math.sqrt(n) * ppk;
  const bound = (p: number) => noncentralityFromT(t, n - 1, p) / (3 * Math.sqrt(n));
  return { ppk, interval: [bound(0.975), bound(0.025)] };
}

/**
 * Capability of one stream against the limits of its characteristic: stability first, then the one-sided index of the
 * worse limit by the normal distribution, with its exact interval.
 * Formula: Ppk = min((mean - lower) / 3 s, (upper - mean) / 3 s); 3 sqrt(n) Ppk of one limit has a noncentral t distribution.
 *
 * @returns ok: false with the reason for fewer than 25 frames, an unstable stream, no limits or no variation
 */
export function streamCapability(input: CapabilityInput): StreamCapability {
  const { lower, upper, againstLower, againstUpper, signals } = input;
  const frames = Math.max(againstLower.length, againstUpper.length);
  if (frames < PROVISIONAL_FRAMES)
    return { ok: false, reason: `Capability needs at least ${PROVISIONAL_FRAMES} frames; there are ${frames}.` };
  if (signals > Math.max(1, frames * SIGNALS_BY_CHANCE))
    return { ok: false, reason: `The stream is not stable (${signals} signals in ${frames} frames): no capability.` };
  const sides: (OneSided & { limit: "lower" | "upper" })[] = [];
  for (const [limit, edge, values] of [
    ["lower", lower, againstLower],
    ["upper", upper, againstUpper],
  ] as const) {
    if (edge === null) continue;
    const sd = standardDeviation(values);
    if (!(sd > 0)) return { ok: false, reason: "All values are equal: no capability without variation." };
    const mean = average(values);
    sides.push({ ...oneSided(limit === "lower" ? mean - edge : edge - mean, sd, values.length), limit });
  }
  const worst = sides.sort((a, b) => a.ppk - b.ppk)[0];
  if (!worst) return { ok: false, reason: "The drawing gives no limits: no capability." };
  const provisional = frames < APPROVABLE_FRAMES;
  return {
    ok: true,
    ...worst,
    frames,
    provisional,
    method: "normal distribution, long term; exact interval of one limit (noncentral t)",
    warnings: provisional
      ? [`From ${frames} frames capability is provisional: ${APPROVABLE_FRAMES} are asked for.`]
      : [],
  };
}
