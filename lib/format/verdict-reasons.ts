import { parseClock, parseReadingName, type Seat } from "@/lib/core/metrology/reading-name";
import type { CharacteristicName, CharacteristicUnit, DecisionRule } from "@/lib/core/metrology/shell-drawing";
import { formatDirection, formatOclock, formatSeat } from "./clock-text";
import { type DecimalSign, formatBounds, formatFixed, formatValue, withUnit } from "./number-text";
import { formatDepth, formatReadingInWords } from "./reading-text";

/** A judged characteristic, as the judge of frames gives it. */
export type ReasonedCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly value: number | null;
  readonly unit: CharacteristicUnit;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly uncertainty: number;
  readonly verdict: "conforms" | "not proven" | "not measured" | "does not conform";
  readonly at: string | null;
  readonly reason?: string;
  /** Why U is larger than the plan's own. */
  readonly widenedBy?: readonly string[];
  /** The size at 20 °C, where the part was far from it; not judged. */
  readonly valueAt20?: number;
  /** What plugs or bar leave possible, where there is no value. */
  readonly bounds?: { readonly least: number | null; readonly most: number | null };
};

export type ReasonOptions = {
  readonly decisionRule: DecisionRule;
  /** From where clock positions are seen. */
  readonly side: Seat;
  readonly decimal?: DecimalSign;
};

const TITLE: Readonly<Record<CharacteristicName, string>> = {
  bore: "size",
  ovality: "ovality",
  taper: "taper",
  coaxiality: "coaxiality",
  tilt: "tilt",
  "face run-out": "face run-out",
  width: "shell width",
};

/** 1.65 u_c as a share of U at k = 2. */
const GUARD_2017 = 1.65 / 2;

function capitalised(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A value beyond what its gauge shows has no number, yet it was looked at. */
const OFF_SCALE = /off the scale of its gauge, (large|small)/;

/**
 * What was judged, with its number: "NDS size 40.953 mm", "Coaxiality ø 0.129 mm", "NDS tilt 1.6′". Coaxiality names its
 * seat only where that is not the usual NDS.
 */
export function verdictTitle(judged: ReasonedCharacteristic, decimal: DecimalSign = "."): string {
  const { name, seat, value, unit } = judged;
  const seatText = seat === null || (name === "coaxiality" && seat === "nds") ? "" : `${formatSeat(seat)} `;
  const subject = capitalised(`${seatText}${TITLE[name]}`);
  if (judged.verdict !== "not measured" && value === null && judged.bounds !== undefined)
    return `${subject} ${boundsText(judged, judged.bounds, decimal)}`;
  const offScale = judged.verdict === "not measured" ? undefined : OFF_SCALE.exec(judged.reason ?? "")?.[1];
  if (value === null && offScale !== undefined) return `${subject} off the scale, ${offScale}`;
  if (value === null || judged.verdict === "not measured") return `${subject} not measured`;
  if (name === "coaxiality") return `${subject} ø\u00a0${formatValue(value / 1000, "mm", { decimal })}`;
  if (name === "face run-out") return `${subject} ${formatValue(value / 1000, "mm", { decimal })}`;
  return `${subject} ${formatValue(value, unit, { decimal })}`;
}

/** Bounds as the values of the same characteristic are shown: coaxiality and run-out in mm. */
function boundsText(
  { name, unit }: ReasonedCharacteristic,
  { least, most }: NonNullable<ReasonedCharacteristic["bounds"]>,
  decimal: DecimalSign,
): string {
  if (name !== "coaxiality") return formatBounds({ least, most }, unit, { decimal });
  const inMm = (value: number | null) => (value === null ? null : value / 1000);
  return formatBounds({ least: inMm(least), most: inMm(most) }, "mm", { decimal });
}

/** "At 9 mm, 1:30–7:30. " and the like; empty where the place says nothing. */
function placeText(judged: ReasonedCharacteristic, { side, decimal }: ReasonOptions): string {
  const { at, name } = judged;
  if (at === null) return "";
  const reading = parseReadingName(at);
  if (reading.ok && reading.value.kind === "bore")
    return `At ${formatDepth(reading.value.depthMm, decimal)}, ${formatDirection(reading.value.directionDeg, side)}. `;
  if (reading.ok && reading.value.kind === "width") return `At ${formatOclock(reading.value.clockDeg, side)}. `;
  const angle = parseClock(at.split("-")[0] ?? "");
  if (angle === null) return "";
  if (name === "ovality") return `Largest at ${formatDirection(angle, side)}. `;
  if (name === "coaxiality") return `Off towards ${formatOclock(angle, side)}. `;
  return name === "face run-out" ? `High side at ${formatOclock(angle, side)}. ` : "";
}

/** Size of a difference in the unit in which people think of it: mm become µm. */
function small(value: number, unit: CharacteristicUnit): number {
  return Math.abs(unit === "mm" ? value * 1000 : value);
}

function smallText(value: number, unit: CharacteristicUnit, digits: number, decimal: DecimalSign): string {
  const text = formatFixed(value, digits, decimal).replace(/[.,]0+$/, "");
  return unit === "arcmin" ? `${text}′` : withUnit(text, "µm");
}

/** Two numbers with as many digits as keep them apart, so that a sentence never says that 5.9 is less than 5.9. */
function apart(distance: number, band: number, unit: CharacteristicUnit, decimal: DecimalSign): [string, string] {
  const shown = (value: number, digits: number): string => smallText(value, unit, digits, decimal);
  const usual = (value: number): number => (unit === "arcmin" || value < 10 ? 1 : 0);
  for (let more = 0; more < 3; more += 1) {
    const [a, b] = [shown(distance, usual(distance) + more), shown(band, usual(band) + more)];
    const sameOrder = Math.sign(
      Number(a.replace(",", ".").replace(/[^\d.]/g, "")) - Number(b.replace(",", ".").replace(/[^\d.]/g, "")),
    );
    if (sameOrder === Math.sign(distance - band)) return [a, b];
  }
  return [shown(distance, usual(distance)), shown(band, usual(band))];
}

type Nearest = { readonly margin: number; readonly limit: "lower" | "upper" };

function nearestLimit(value: number, lower: number | null, upper: number | null): Nearest | null {
  const below: Nearest | null = lower === null ? null : { margin: value - lower, limit: "lower" };
  const above: Nearest | null = upper === null ? null : { margin: upper - value, limit: "upper" };
  if (below === null || above === null) return below ?? above;
  return below.margin < above.margin ? below : above;
}

function guardText(rule: DecisionRule): string {
  return rule === "guard-1.65uc" ? "guard band" : "uncertainty";
}

function numberSentence(judged: ReasonedCharacteristic, nearest: Nearest, options: ReasonOptions): string {
  const { unit, lower, upper, uncertainty, verdict } = judged;
  const { decisionRule, decimal = "." } = options;
  const distance = small(nearest.margin, unit);
  const share = decisionRule === "guard-1.65uc" ? GUARD_2017 : 1;
  const [distanceText, bandText] = apart(distance, small(uncertainty, unit) * share, unit, decimal);
  const limit = lower !== null && upper !== null ? `the ${nearest.limit} limit` : "the limit";
  const beyond = `${distanceText} ${nearest.limit === "upper" ? "over" : "under"} ${limit}`;
  const inside = `${distanceText} inside ${limit}`;
  if (decisionRule === "simple") {
    const unguarded = `no guard band, uncertainty is ±${bandText}`;
    return verdict === "does not conform"
      ? `${beyond}; ${unguarded}: does not conform.`
      : `${inside}; ${unguarded}: conforms.`;
  }
  const band = guardText(decisionRule);
  const equal = distanceText === bandText;
  if (verdict === "does not conform") return `${beyond}, more than the ${band} of ±${bandText}: proven.`;
  if (verdict === "conforms")
    return `${inside}, ${equal ? "as much as" : "more than"} the ${band} of ±${bandText}: conforms.`;
  if (distance === 0) return `Just at ${limit}, ${band} is ±${bandText}: not proven.`;
  return nearest.margin < 0
    ? `${beyond}, ${equal ? "as much as" : "less than"} the ${band} of ±${bandText}: not proven.`
    : `Only ${inside}, ${band} is ±${bandText}: not proven.`;
}

/** A reason with its readings called as the station calls them: "reading “DS seat, 12–6, 2 mm deep” is missing". */
export function reasonInWords(reason: string, { side, decimal }: Pick<ReasonOptions, "side" | "decimal">): string {
  return reason.replaceAll(/[^\s,();]+/g, (word) => {
    if (!/[.@]/.test(word)) return word;
    const name = parseReadingName(word);
    return name.ok ? `“${formatReadingInWords(name.value, side, decimal)}”` : word;
  });
}

/** The first clause of a reason, for a headline: what follows stands where all reasons do. */
export function briefReason(reason: string, options: Pick<ReasonOptions, "side" | "decimal">): string {
  const [clause = reason] = reason.split(/[:;] /);
  return reasonInWords(clause.replace(/ \([^)]*\)$/, ""), options);
}

/** Why U is larger than the plan's, and the size at 20 °C beside the one read. */
function besideText({ widenedBy = [], valueAt20, unit }: ReasonedCharacteristic, { decimal }: ReasonOptions): string {
  const widened = widenedBy.length === 0 ? "" : ` The uncertainty is larger than the plan’s: ${widenedBy.join(", ")}.`;
  const at20 =
    valueAt20 === undefined
      ? ""
      : ` At 20 °C it would be ${formatValue(valueAt20, unit, { decimal })}, the ring at 20 °C.`;
  return `${widened}${at20}`;
}

/**
 * Why a characteristic has its verdict, in one or two sentences with the number, the limit and U:
 * "29 µm over the limit, more than the uncertainty of ±14 µm: proven."
 *
 * @param judged - from the judge of frames
 * @param options.decisionRule - of the drawing
 * @param options.side - from where clock positions are seen
 */
export function verdictReason(judged: ReasonedCharacteristic, options: ReasonOptions): string {
  if (judged.reason !== undefined) {
    const verdict = judged.verdict === "not measured" ? "Not measured" : capitalised(judged.verdict);
    return `${verdict}: ${reasonInWords(judged.reason, options)}.${besideText(judged, options)}`;
  }
  if (judged.value === null) return "Not measured.";
  const value = judged.name === "taper" ? Math.abs(judged.value) : judged.value;
  const nearest = nearestLimit(value, judged.lower, judged.upper);
  if (nearest === null) return "The drawing sets no limit.";
  return `${placeText(judged, options)}${numberSentence(judged, nearest, options)}${besideText(judged, options)}`;
}
