import { formatFixed, formatIndex, formatPpm, formatValue } from "@/lib/format/number-text";
import { signalText } from "@/lib/format/signal-words";
import type { StreamCapability } from "@/lib/quality/stream-capability";
import type { StreamSignal, StreamSubject } from "@/lib/quality/stream-evaluation";
import type { FileStream } from "./file-streams";

/** A number of a stream with its unit: mm to 0.0001, everything else to 0.1; T2 has no unit. */
export function streamNumber(value: number | null, unit: StreamSubject["unit"]): string {
  if (value === null) return "none";
  return unit === "T2" ? formatFixed(value, 1) : formatValue(value, unit, { digits: unit === "mm" ? 4 : 1 });
}

const WARNING_WORDS: Readonly<Record<string, string>> = {
  "provisional-normal-only": "normal distribution assumed, too few frames to choose one",
  "not-normal": "the values are not normal",
  "flexible-distribution": "no simple distribution fits, so a curve of four parameters stands for it",
  "no-distribution-fits": "no distribution fits well",
  autocorrelated: "neighbouring frames are alike, so the interval is too narrow",
  "values-below-natural-limit": "some values are below 0, which this characteristic cannot be",
  "coarse-resolution": "the gauge resolves the spread of the values hardly or not at all",
  "bootstrap-incomplete": "some resamples gave no answer",
};

/** A signal of a stream in words, with its numbers. */
export function signalWords({ evaluation: { limits }, subject }: FileStream, signal: StreamSignal): string {
  return limits === null ? "" : signalText(signal, limits, subject.unit);
}

/** Capability in words: index, interval, fraction, what it rests on; or the reason why there is none. */
export function capabilityText(capability: StreamCapability | null): string {
  if (capability === null) return "";
  if (!capability.ok) return `No capability: ${capability.reason}`;
  const { ppk, interval, ppm, ppmInterval, limit, status, distribution, frames, warnings } = capability;
  const index = ppk === null ? "Ppk beyond what can be stated" : `Ppk ${formatIndex(ppk)}`;
  const between =
    interval === null ? "" : ` (95 % interval ${formatIndex(interval.lower)} to ${formatIndex(interval.upper)})`;
  const side = limit === null ? "" : `, ${limit} limit`;
  const fraction = `, ${formatPpm(ppm / 1e6)} outside${ppmInterval === null ? "" : ` (95 % interval up to ${formatPpm(ppmInterval.upper / 1e6)})`}`;
  const doubts = warnings.map((warning) => WARNING_WORDS[warning] ?? warning);
  return `${index}${between}${side}${fraction}; ${status}, ${frames} frames, ${[distribution, ...doubts].join("; ")}.`;
}
