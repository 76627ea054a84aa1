import { featureNamed } from "../core/metrology/features";
import type {
  CauseAnswer,
  CaseChange,
  CaseFeature,
  CaseKind,
  CauseCode,
  CauseTwin,
  EventKind,
  Evidence,
  LabelName,
  OvalFeature,
  RankedCause,
  SettlingMeasurement,
} from "../quality/cases/case";
import type { FoundCase } from "../quality/cases/found-case";
import { formatSeat } from "./clock-text";
import { formatCounted, formatFixed, formatMm, formatSigned, withUnit } from "./number-text";
import { streamName } from "./stream-words";
import { countText } from "./value-text";

const LABEL_WORDS: Readonly<Record<LabelName, string>> = {
  tool: "reamer",
  fixture: "fixture",
  mould: "mould",
  "gauge.bore": "bore gauge",
  "gauge.sweep": "sweep gauge",
  "gauge.face": "face gauge",
  "gauge.width": "width gauge",
  inspector: "inspector",
  supplier: "supplier",
  batch: "batch",
  shift: "shift",
};

const EVENT_WORDS: Readonly<Record<EventKind, string>> = {
  tool: "a reamer change",
  fixture: "work on the fixture",
  mould: "work on the mould",
  gauge: "work on a gauge",
  material: "a new material lot",
  inspector: "a change of the inspector",
  other: "an event",
};

const SHAPE_WORDS: Readonly<Record<CaseKind, string>> = {
  step: "a step",
  trend: "a trend",
  spread: "a larger spread",
  frames: "single frames",
};

const MEASURE_WORDS: Readonly<Record<SettlingMeasurement, string>> = {
  "zero check or other gauge": "check the zero of the gauge now, or measure one frame with the other bore gauge",
  "turned on the mandrel": "measure the same frame turned by half a turn on the mandrel",
  "before machining or other fixture":
    "measure the same shell before machining, or a shell of that mould in another fixture",
  "five times by two people": "let two people measure one frame five times",
  "one frame of the old lot": "machine and measure one frame of the old lot",
  "both temperatures": "read the temperatures of part and gauge",
  "same frame after machining": "compare with what the same frame measured after machining",
};

/** A cause by its name; of the plant's own the name that the plant gave. */
export function causeName(cause: CauseCode): string {
  return cause.startsWith("own: ") ? cause.slice("own: ".length) : cause;
}

const OVAL_WORDS: Readonly<Record<OvalFeature, string>> = {
  "ds.oval.12": "direction of the DS oval",
  "ds.oval.1:30": "direction of the DS oval",
  "nds.oval.12": "direction of the NDS oval",
  "nds.oval.1:30": "direction of the NDS oval",
};

function isOval(feature: CaseFeature): feature is OvalFeature {
  return feature in OVAL_WORDS;
}

function featureWords(feature: CaseFeature): string {
  return isOval(feature) ? OVAL_WORDS[feature] : streamName(feature);
}

/** Streams that a reason names; the rest is counted. */
const NAMED_MOST = 4;

function listWords(features: readonly CaseFeature[]): string {
  const all = [...new Set(features.map(featureWords))];
  const names =
    all.length > NAMED_MOST + 1 ? [...all.slice(0, NAMED_MOST), `${all.length - NAMED_MOST} more streams`] : all;
  return names.length < 2 ? (names[0] ?? "") : `${names.slice(0, -1).join(", ")} and ${names.at(-1) ?? ""}`;
}

function clockWords(hours: number): string {
  const halves = Math.round(2 * hours) % 24;
  const [hour, half] = [Math.floor(halves / 2), halves % 2 === 1];
  return `${hour === 0 ? 12 : hour}${half ? ":30" : ""} o'clock`;
}

/** One reason for or against a cause, as a part of a sentence. */
export function evidenceWords(one: Evidence): string {
  switch (one.code) {
    case "moved alike":
      return `${listWords(one.features)} moved as it moves them`;
    case "spared":
      return `${listWords(one.features)} stayed, as it leaves them`;
    case "spared stream moved":
      return `${listWords(one.features)} moved, which it leaves alone`;
    case "does not fit":
      return "what moved does not fit it";
    case "shape":
      return one.isFor
        ? `it came as ${SHAPE_WORDS[one.kind]}`
        : `it came as ${SHAPE_WORDS[one.kind]}, which it does not`;
    case "oval stays":
      return one.isFor
        ? `the long axis stays at ${clockWords(one.clockHours)}`
        : "the long axis points another way from frame to frame";
    case "began with":
      return `it began with ${LABEL_WORDS[one.label]} ${one.value}`;
    case "event":
      return `${EVENT_WORDS[one.kind]} lies where it began`;
    case "only with":
      return `only frames of ${LABEL_WORDS[one.label]} ${one.value} have it`;
    case "no change of":
      return `the ${LABEL_WORDS[one.label]} did not change where it began`;
    case "not after paint":
      return "these frames are not painted yet";
    case "zero check":
      return `a zero check after it showed ${formatSigned(one.deviationUm, 1)} µm`;
    case "frames between":
      return `${one.affected} of ${countText(one.of, "frame")} have it and those between do not`;
    case "often before":
      return `it was the cause ${countText(one.times, "time")} before`;
  }
}

/** Why a cause is named: reasons for it, then those against it, as one sentence. */
export function causeWhy({ evidence }: Pick<RankedCause, "evidence">): string {
  const reasons = [...evidence].sort((a, b) => Number(b.isFor) - Number(a.isFor)).map(evidenceWords);
  const sentence = [...new Set(reasons)].join("; ");
  return sentence === "" ? "Nothing else speaks for it." : `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`;
}

function unitWords(change: CaseChange): string {
  if (change.unit === null) return "times the usual spread";
  const unit = change.unit === "arcmin" ? "arc minutes" : change.unit;
  return change.each === "frame" ? `${unit} a frame` : unit;
}

/**
 * A change with its size: "step of −5.1 µm", "trend of +0.10 µm a frame", "spread 3.2 times the usual spread"; of the offset with the
 * clock hour to which it went.
 */
export function changeWords(kind: CaseKind, change: CaseChange, towards: number | null = null): string {
  const unit = unitWords(change);
  if (change.unit === null) return `spread ${formatFixed(change.value, 1)} ${unit}`;
  const digits = change.each === "frame" ? 2 : 1;
  const size =
    towards === null
      ? `${formatSigned(change.value, digits)} ${unit}`
      : `${formatFixed(change.value, digits)} ${unit} towards ${clockWords(towards)}`;
  return kind === "frames"
    ? `single frames, off by ${size}`
    : `${kind === "spread" ? "larger spread," : `${kind} of`} ${size}`;
}

/** The measurement that separates two causes, as an order: "Check the zero of the gauge now, or ...". */
export function measureWords(measure: SettlingMeasurement): string {
  return capital(MEASURE_WORDS[measure]);
}

function twinWords(twin: CauseTwin | null): string {
  if (twin === null) return "";
  return ` (readings alone cannot tell it from ${causeName(twin.what as CauseCode)}: ${MEASURE_WORDS[twin.measure]})`;
}

/** What is said of the cause, as a sentence; two that the readings do not separate come with the measurement that does. */
export function answerWords(answer: CauseAnswer): string {
  switch (answer.kind) {
    case "probable":
      return `Probably ${causeName(answer.cause)}${twinWords(answer.twin)}.`;
    case "either": {
      const [one, other] = answer.causes;
      const measure = answer.measure === null ? "" : `: ${MEASURE_WORDS[answer.measure]}`;
      return `${causeName(one).replace(/^./, (c) => c.toUpperCase())} or ${causeName(other)}${measure}.`;
    }
    case "together":
      return `Probably two at once: ${answer.causes.map(causeName).join(" and ")}.`;
    case "unknown":
      return "The cause is not known.";
  }
}

function capital(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}

/** What a case is, as a headline: "DS bore mean and NDS bore mean: step of −5.1 µm". */
export function caseHeadline({
  members,
  kind,
  change,
  towards,
}: Pick<FoundCase, "members" | "kind" | "change" | "towards">): string {
  const signalled = members.filter(({ by }) => by === "signal").map(({ feature }) => feature);
  return `${capital(listWords(signalled))}: ${changeWords(kind, change, towards)}`;
}

/** A size of a change, short: "+46.6 µm", "−0.19 µm a frame", "3.2 times the spread". */
export function sizeWords(change: CaseChange): string {
  if (change.unit === null) return `${formatFixed(change.value, 1)} times the spread`;
  const text = formatSigned(change.value, change.each === "frame" ? 2 : 1);
  const size = change.unit === "arcmin" ? `${text}′` : withUnit(text, "µm");
  return change.each === "frame" ? `${size} a frame` : size;
}

/** What changed, as the subject of a sentence, and whether it is more than one: "both bores", "the ovality of the DS seat". */
function subjectOf({ lead, members }: Pick<FoundCase, "lead" | "members">): {
  readonly name: string;
  readonly are: boolean;
} {
  const sign = members.find(({ feature }) => feature === lead)?.sign;
  const isWith = (feature: string) => members.some((one) => one.feature === feature && one.sign === sign);
  if (isOval(lead)) return { name: `the ${OVAL_WORDS[lead]}`, are: false };
  const { characteristic, seat, statistic } = featureNamed(lead);
  if (characteristic === "coaxiality") return { name: "the NDS seat", are: false };
  if (seat === null) return { name: "the width", are: false };
  const areBoth = isWith(lead.startsWith("nds.") ? lead.slice(1) : `n${lead}`);
  if (characteristic === "bore" && statistic === "mean")
    return areBoth ? { name: "both bores", are: true } : { name: `the ${formatSeat(seat)} bore`, are: false };
  const of = characteristic === "face run-out" ? "run-out" : characteristic;
  const what = characteristic === "bore" ? "the spread within" : `the ${of} of`;
  const place = characteristic === "bore" ? "bore" : characteristic === "face run-out" ? "face" : "seat";
  return { name: `${what} ${areBoth ? `both ${place}s` : `the ${formatSeat(seat)} ${place}`}`, are: false };
}

/**
 * What a case is, as a sentence without its line: "the NDS seat moved 0.065 mm towards 4 o'clock", "both bores are smaller by 5.1 µm".
 */
export function caseSentence({
  lead,
  members,
  kind,
  change,
  towards,
}: Pick<FoundCase, "lead" | "members" | "kind" | "change" | "towards">): string {
  const { name, are } = subjectOf({ lead, members });
  if (change.unit === null)
    return `${name} ${are ? "scatter" : "scatters"} ${formatFixed(change.value, 1)} times as much as before`;
  if (towards !== null) {
    const way = `towards ${clockWords(towards)}`;
    return kind === "trend"
      ? `${name} moves ${withUnit(formatFixed(change.value, 2), "µm")} ${way} with each frame`
      : `${name} ${kind === "frames" ? "is off by" : "moved"} ${formatMm(change.value / 1000)} ${way}${kind === "frames" ? " in single frames" : ""}`;
  }
  const text = formatFixed(Math.abs(change.value), change.each === "frame" ? 2 : 1);
  const size = change.unit === "arcmin" ? `${text}′` : withUnit(text, "µm");
  const way = change.value < 0 ? "smaller" : "larger";
  if (kind === "trend") return `${name} ${are ? "become" : "becomes"} ${way} by ${size} with each frame`;
  return `${name} ${are ? "are" : "is"} ${way} by ${size}${kind === "frames" ? " in single frames" : ""}`;
}

/** Since when a change is, with the interval where it is not one frame. */
export function sinceWords({ since }: Pick<FoundCase, "since">): string {
  const { serial, earliest, latest } = since;
  return earliest === latest ? `since ${serial}` : `since ${serial}, between ${earliest} and ${latest}`;
}

/** What a case costs: frames, batches, and how far its trend is from its limit. */
export function costWords(
  { outside, framesToLimit }: Pick<FoundCase, "outside" | "framesToLimit">,
  heldBatches: number,
): string {
  const parts = [
    outside.length === 0 ? "no frame outside a limit" : `${formatCounted(outside.length, "frame")} outside a limit`,
    ...(heldBatches === 0 ? [] : [`${formatCounted(heldBatches, "held batch", "held batches")}`]),
    ...(framesToLimit === null
      ? []
      : [
          framesToLimit === 0
            ? "its level is at the limit"
            : `about ${formatCounted(framesToLimit, "frame")} to the limit`,
        ]),
  ];
  return capital(parts.join(", "));
}
