import { CoreError } from "../errors";

/** A signal of one stream with what its frame was made and measured by. */
export type FactoredSignal = Readonly<{
  stream: string;
  /** Place of the signalling frame in the common order of measuring. */
  position: number;
  /** First frame of the pattern; the position itself where it is one frame. */
  from: number;
  side: "upper" | "lower" | null;
}>;

/** One measured frame: its place and its factors (reamer, gauge, fixture, inspector, mould). */
export type FactoredFrame = Readonly<{ position: number; factors: Readonly<Record<string, string>> }>;

export type Finding = Readonly<{
  /** First and last frame that the signals of it touch. */
  from: number;
  to: number;
  streams: readonly string[];
  signals: readonly FactoredSignal[];
  /** What all of the signalling frames share and the quiet ones of the same time do not; null where nothing sets them apart. */
  cause: Readonly<{ factor: string; value: string; lift: number }> | null;
}>;

export type FindingOptions = Readonly<{
  /** Signals that lie at most this many frames apart belong together; 20 by default. */
  gap?: number;
  /** How much likelier a signalling frame has the factor than a frame of the series at large, to be called its cause; 1.5. */
  lift?: number;
}>;

const USUAL_GAP = 20;
const USUAL_LIFT = 1.5;

function gatherInTime(signals: readonly FactoredSignal[], gap: number): FactoredSignal[][] {
  const sorted = [...signals].sort((a, b) => a.from - b.from || a.position - b.position);
  const groups: FactoredSignal[][] = [];
  let end = -Infinity;
  for (const signal of sorted) {
    if (signal.from - end > gap) groups.push([]);
    groups.at(-1)!.push(signal);
    end = Math.max(end, signal.position);
  }
  return groups;
}

/** The factor whose one level all signalling frames have and the series at large has least often. */
function causeOf(
  signals: readonly FactoredSignal[],
  frames: readonly FactoredFrame[],
  least: number,
): Finding["cause"] {
  const touched = new Set(signals.map(({ position }) => position));
  const own = frames.filter(({ position }) => touched.has(position));
  const first = own[0];
  if (!first) return null;
  let best: Finding["cause"] = null;
  for (const [factor, value] of Object.entries(first.factors)) {
    if (!own.every((frame) => frame.factors[factor] === value)) continue;
    const share = frames.filter((frame) => frame.factors[factor] === value).length / frames.length;
    const lift = 1 / share;
    if (lift >= least && (best === null || lift > best.lift)) best = { factor, value, lift };
  }
  return best;
}

/**
 * Gathers the signals of many streams into findings: signals at one time that share a cause are one thing that happened.
 *
 * @param signals - of all streams of one line, any order
 * @param frames - the frames of the stretch that the streams chart, with their factors
 * @param options - see FindingOptions
 * @returns findings in the order of time, each with its streams, its first frame and its likely cause
 * @throws CoreError out-of-range for a negative gap or a lift below 1
 * Method: neighbours in time are gathered; a level of a factor that all signalling frames have is a cause as far as it is
 *   rarer in the whole stretch (lift = 1 / its share there). A hint for a person, no proof.
 * Edge cases: no signals -> no findings; a factor with one level in the stretch is never a cause
 * Source: common practice, no source
 */
export function gatherFindings(
  signals: readonly FactoredSignal[],
  frames: readonly FactoredFrame[],
  options: FindingOptions = {},
): Finding[] {
  const { gap = USUAL_GAP, lift = USUAL_LIFT } = options;
  if (!(gap >= 0)) throw new CoreError("out-of-range", `gatherFindings: gap must be at least 0; got ${gap}`);
  if (!(lift >= 1)) throw new CoreError("out-of-range", `gatherFindings: lift must be at least 1; got ${lift}`);
  return gatherInTime(signals, gap).map((group) => ({
    from: Math.min(...group.map((signal) => signal.from)),
    to: Math.max(...group.map((signal) => signal.position)),
    streams: [...new Set(group.map((signal) => signal.stream))],
    signals: group,
    cause: causeOf(group, frames, lift),
  }));
}
