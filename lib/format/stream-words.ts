import { featureNamed, type FeatureName } from "../core/metrology/features";
import { formatSeat } from "./clock-text";
import { formatFixed, formatSigned, unitText, withUnit, type DecimalSign } from "./number-text";

export type StreamUnit = "mm" | "µm" | "arcmin";

/** Unit and decimals in which a charted feature is shown. */
export function streamUnit(feature: FeatureName): { readonly unit: StreamUnit; readonly decimals: number } {
  const { unit, decimals } = featureNamed(feature);
  return { unit, decimals };
}

/** What a stream charts, short: "NDS bore", "DS ovality", "width", "spread within the NDS bore". */
export function streamName(feature: FeatureName): string {
  const { characteristic, seat: of, statistic } = featureNamed(feature);
  if (of === null) return "width";
  if (characteristic === "coaxiality") return "offset";
  const seat = formatSeat(of);
  if (characteristic === "bore") return statistic === "range" ? `spread within the ${seat} bore` : `${seat} bore`;
  return `${seat} ${characteristic}`;
}

/** What a stream charts, in full for the title of its chart. */
export function streamTitle(feature: FeatureName): string {
  const { characteristic, seat: of, statistic, unit } = featureNamed(feature);
  const shown = unitText(unit);
  if (of === null) return `Mean width of the shell, ${shown}`;
  const seat = formatSeat(of);
  if (characteristic !== "bore")
    return `${characteristic} of the ${seat} seat, ${shown}`.replace(/^./, (c) => c.toUpperCase());
  return statistic === "range"
    ? `Spread within the ${seat} bore, largest minus smallest diameter, ${shown}`
    : `Mean diameter of the ${seat} seat, ${shown}`;
}

/** A value of a stream with its unit: "45.978 mm", "11.4 µm", "1.25′". */
export function formatStreamValue(value: number, feature: FeatureName, decimal: DecimalSign = "."): string {
  const { unit, decimals } = streamUnit(feature);
  const text = formatFixed(value, decimals, decimal);
  return unit === "arcmin" ? `${text}′` : withUnit(text, unit);
}

/** A difference of two values of a stream with its sign: of sizes in µm, "+3.2 µm", "−0.41′". */
export function formatStreamDifference(difference: number, feature: FeatureName, decimal: DecimalSign = "."): string {
  const { unit } = streamUnit(feature);
  return unit === "arcmin"
    ? `${formatSigned(difference, 2, decimal)}′`
    : withUnit(formatSigned(unit === "mm" ? difference * 1000 : difference, 1, decimal), "µm");
}

/** A spread of a stream: of sizes in µm to two decimals, since a gauge shows whole ones. */
export function formatStreamSpread(spread: number, feature: FeatureName, decimal: DecimalSign = "."): string {
  const { unit } = streamUnit(feature);
  return unit === "arcmin"
    ? `${formatFixed(spread, 3, decimal)}′`
    : withUnit(formatFixed(unit === "mm" ? spread * 1000 : spread, 2, decimal), "µm");
}

/** A small size difference in the unit people compare in: below 10 µm in µm, above in mm. */
function formatDifference(difference: number, feature: FeatureName, decimal: DecimalSign): string {
  const { unit, decimals } = streamUnit(feature);
  const size = Math.abs(difference);
  if (unit === "mm" && size < 0.01) return withUnit(formatFixed(size * 1000, 1, decimal), "µm");
  return unit === "arcmin"
    ? `${formatFixed(size, decimals, decimal)}′`
    : withUnit(formatFixed(size, decimals, decimal), unit);
}

/** A change from frame to frame, to two digits that say something: "0.29 µm", "0.013 µm". */
function formatSlope(slope: number, feature: FeatureName, decimal: DecimalSign): string {
  const { unit } = streamUnit(feature);
  const shown = unit === "mm" ? slope * 1000 : slope;
  const text = formatFixed(shown, shown < 0.1 ? 3 : 2, decimal);
  return unit === "arcmin" ? `${text}′` : withUnit(text, "µm");
}

/** How a finding is given to words: its kind and the numbers that they need. */
export type FindingToSay =
  | { readonly kind: "few"; readonly frames: number }
  | { readonly kind: "steady"; readonly level: number }
  | {
      readonly kind: "moved";
      readonly shape: "step" | "drift";
      readonly since: number;
      readonly before: number;
      readonly now: number;
      readonly slope: number;
    }
  | { readonly kind: "off-baseline"; readonly baseline: number; readonly now: number };

const isSize = (feature: FeatureName) => streamUnit(feature).unit === "mm";

function direction(feature: FeatureName, difference: number): string {
  if (isSize(feature)) return difference < 0 ? "down" : "up";
  return difference < 0 ? "less" : "more";
}

/**
 * The finding as a headline without the stream's name: "0.014 mm down since frame 62", "steady".
 *
 * @param frameNumber - number in the stream of an index of the finding
 */
export function findingHeadline(
  finding: FindingToSay,
  feature: FeatureName,
  frameNumber: (index: number) => number,
  decimal: DecimalSign = ".",
): string {
  switch (finding.kind) {
    case "few":
      return `${finding.frames === 1 ? "1 frame" : `${finding.frames} frames`} so far`;
    case "steady":
      return `steady at ${formatStreamValue(finding.level, feature, decimal)}`;
    case "moved": {
      const difference = finding.now - finding.before;
      return `${formatDifference(difference, feature, decimal)} ${direction(feature, difference)} since frame ${frameNumber(finding.since)}`;
    }
    case "off-baseline": {
      const difference = finding.now - finding.baseline;
      const side = isSize(feature) ? (difference < 0 ? "below" : "above") : difference < 0 ? "less than" : "more than";
      return `${formatDifference(difference, feature, decimal)} ${side} its baseline`;
    }
  }
}

/** What is behind the headline, in a sentence or two. */
export function findingSentence(
  finding: FindingToSay,
  feature: FeatureName,
  frameNumber: (index: number) => number,
  decimal: DecimalSign = ".",
): string {
  const say = (value: number) => formatStreamValue(value, feature, decimal);
  switch (finding.kind) {
    case "few":
      return "Too few frames since the last change of tool or fixture to say where the stream goes.";
    case "steady":
      return "No significant step or drift in the frames shown.";
    case "moved": {
      if (finding.shape === "step")
        return `The mean stepped from ${say(finding.before)} to ${say(finding.now)} at frame ${frameNumber(finding.since)}.`;
      const fine = formatSlope(Math.abs(finding.slope), feature, decimal);
      const grows = finding.slope < 0 ? "smaller" : "larger";
      return `${say(finding.before)} until frame ${frameNumber(finding.since) - 1}, then ${fine} ${grows} with every frame; now ${say(finding.now)}.`;
    }
    case "off-baseline":
      return `The last frames lie at ${say(finding.now)}, the baseline at ${say(finding.baseline)}; no step or drift within them.`;
  }
}

const RULE_WORDS: Readonly<Record<string, string>> = {
  "zone-1": "beyond a control limit",
  "zone-2": "2 of 3 beyond two standard deviations",
  "zone-3": "4 of 5 beyond one standard deviation",
  "zone-4": "8 in a row on one side of the mean",
  "test-1": "beyond the control limit",
  ewma: "weighted mean beyond its limit",
  t2: "offset beyond the T² limit",
};

/** A run rule in a few words, with the side where it has one. */
export function ruleWords(rule: string, side: "upper" | "lower" | null = null): string {
  const words = RULE_WORDS[rule] ?? rule;
  return side === null ? words : `${words}, ${side === "upper" ? "high" : "low"}`;
}
