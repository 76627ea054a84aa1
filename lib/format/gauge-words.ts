import type { GaugeState, GaugeStateReason } from "@/lib/quality/gauge-state";
import { formatDay, formatMoment } from "./date-text";
import { formatFixed, withUnit } from "./number-text";

/** The state of a gauge in words. */
export const GAUGE_STATE_WORDS = {
  "in-use": "in use",
  "in-doubt": "in doubt",
  quarantined: "quarantined",
  retired: "retired",
} as const satisfies Record<GaugeState, string>;

/** Why a gauge is in its state, as a sentence without a full stop. */
export function gaugeReasonText(reason: GaugeStateReason, zone: string): string {
  switch (reason.code) {
    case "out-of-use":
      return "it was taken out of use";
    case "never-calibrated":
      return "it was never calibrated";
    case "calibration-over":
      return `its calibration ended on ${formatDay(reason.dueMs, { zone })}`;
    case "ring-out-of-use":
      return `its setting ring ${reason.ring} is out of use`;
    case "zero-failed": {
      const found = formatMoment(reason.foundMs, { zone });
      return `the zero check of ${found} found it ${zeroErrorText(reason.zeroErrorUm)}, and the limit is ${withUnit(formatFixed(reason.limitUm, 2), "µm")}`;
    }
  }
}

/** "4.5 µm too small": what a gauge reads that shows less than the ring is. */
export function zeroErrorText(zeroErrorUm: number): string {
  if (zeroErrorUm === 0) return "right";
  return `${withUnit(formatFixed(Math.abs(zeroErrorUm), 1), "µm")} too ${zeroErrorUm < 0 ? "small" : "large"}`;
}

const STOPS: Readonly<Record<GaugeState, string>> = {
  "in-use": "Nothing: what it measures counts, as long as its zero checks pass and its calibration is in force.",
  "in-doubt":
    "Everything that it measured since its last good check is not proven, in the house and shipped, and what it measures now is not proven, too. A good check or a calibration ends the stretch, but frees nothing in it.",
  quarantined:
    "What it measures is not proven and holds its frame, until a calibration is in force and its ring is in use again.",
  retired: "Line does not offer it. What it measured stays as it was judged; readings sent with it are refused.",
};

/** What a state of a gauge stops. */
export const gaugeStateStops = (state: GaugeState): string => STOPS[state];

/** The finding as a headline: "BG-06 is in doubt: it reads 4.5 µm too small". */
export function gaugeHeadline(
  key: string,
  state: GaugeState,
  reasons: readonly GaugeStateReason[],
  zone: string,
): string {
  const [first] = reasons;
  if (first === undefined) return `${key} is in use`;
  if (first.code === "zero-failed") return `${key} is in doubt: it reads ${zeroErrorText(first.zeroErrorUm)}`;
  return `${key} is ${GAUGE_STATE_WORDS[state]}: ${gaugeReasonText(first, zone)}`;
}
