import type { ReadingKind, Seat } from "@/lib/core/metrology/reading-name";
import type {
  FrameJudgement,
  JudgedCharacteristic,
  ToldCharacteristic,
  ToldJudgement,
} from "@/lib/quality/judge-frame";
import type {
  ClippedReason,
  ComparedOn,
  DisagreementReason,
  DoubtReason,
  JudgingReason,
  RejectedReason,
  SweepReason,
  ToldValue,
  WideningReason,
} from "@/lib/quality/judging-reason";
import type { LackingReadings, ReadCircle } from "@/lib/quality/plan-coverage";
import { feltReasonText } from "./felt-words";
import { limitsText, uncertaintyText, valueText } from "./value-text";

const SEAT_NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

const KIND_NOUN: Readonly<Record<ReadingKind, string>> = {
  bore: "a bore",
  sweep: "a sweep",
  face: "a face",
  width: "a width",
  plug: "a plug",
  bar: "a bar",
};

/** What was cut off, without a full stop. */
export function clippedText({ readings, atUm, kind }: Omit<ClippedReason, "code">): string {
  const stand = readings === 1 ? "1 reading stands" : `${readings} readings stand`;
  return `${stand} at ${atUm} µm, the end of the indicator’s travel: ${kind === "face" ? "measure the face" : "sweep"} again`;
}

/** Readings to take again and why, without a full stop. */
export function repeatText(reason: SweepReason | RejectedReason): string {
  switch (reason.code) {
    case "sweep-not-closed":
      return `${sectionText(reason)} does not close by ${valueText(Math.abs(reason.byUm), "µm")}, at most ${valueText(reason.limitUm, "µm")}: the indicator slipped; sweep again`;
    case "sweep-scatters":
      return (
        `${sectionText(reason)} scatters by ${valueText(reason.residualSdUm, "µm")} where its budget is ${valueText(reason.budgetUm, "µm")}: ` +
        "the indicator slipped, or the seat has lobes that these angles do not fit; sweep again, and if it stays so, at 12 angles or more"
      );
    case "reading-rejected":
      return `reading ${reason.label} lies ${valueText(Math.abs(reason.byUm), "µm")} off the others of its ${reason.of}: measure that ${reason.of === "sweep" ? "angle" : "place"} again`;
  }
}

function sectionText({ seat, depthMm }: Pick<SweepReason, "seat" | "depthMm">): string {
  return `the ${SEAT_NAME[seat]} sweep ${depthMm} mm deep`;
}

function lobesText(lobes: readonly number[]): string {
  return lobes.length === 1 ? `lobes of order ${lobes[0]}` : `lobes of orders ${lobes.join(", ")}`;
}

/** Why readings are in doubt, without a full stop. */
export function doubtText(reason: DoubtReason): string {
  switch (reason.code) {
    case "unseen-lobes":
      return `the gauge does not see ${lobesText(reason.lobes)}`;
    case "zero-drifted":
      return reason.why;
    case "no-gauge":
      return "no gauge named";
    case "wrong-gauge":
      return `gauge ${reason.gauge} (${reason.principle}) cannot measure ${KIND_NOUN[reason.kind]}`;
    case "gauge-range": {
      const { gauge, rangeMm, limits } = reason;
      return `gauge ${gauge} measures ${rangeMm.lower} to ${rangeMm.upper} mm and does not reach the ${limitsText(limits.lower, limits.upper, "mm")}`;
    }
    case "never-checked":
      return `gauge ${reason.gauge} was never zero-checked nor calibrated before`;
    case "travel-clipped":
      return clippedText(reason);
    case "temperature-unknown":
      return "the plan asks for the temperature and none was read";
    case "temperature-outside":
      return `the shell was at ${reason.temperatureC} °C, the plan asks for ${reason.fromC} to ${reason.toC} °C: let it settle and measure again`;
    case "other-line":
      return `measured at station ${reason.station} of line ${reason.line}, the frame is of line ${reason.frameLine}: nobody said that it was the right frame`;
    default:
      return repeatText(reason);
  }
}

function circleText(of: ReadCircle): string {
  switch (of.kind) {
    case "bore":
    case "sweep":
      return `${SEAT_NAME[of.seat]} ${of.kind} at ${of.depthMm} mm`;
    case "face":
      return `${SEAT_NAME[of.seat]} face`;
    case "width":
      return "width";
  }
}

/** What one place on a circle is called. */
const PLACE = { bore: "direction", sweep: "angle", face: "angle", width: "position" } as const;

/** What readings lack against those that a plan asks for, without a full stop. */
export function lackingText(lacking: LackingReadings): string {
  if (lacking.code === "no-trial") return `no trial of ${lacking.label}`;
  const { of } = lacking;
  const circle = circleText(of);
  switch (lacking.code) {
    case "no-circle":
      return `no ${circle}`;
    case "fewer-places":
      return `${lacking.measured} of ${lacking.asked} ${PLACE[of.kind]}s of the ${circle}`;
    case "farther-apart":
      return `${PLACE[of.kind]}s of the ${circle} that lie closer together`;
    case "not-closed":
      return `the closing reading of the ${circle}`;
  }
}

function lessThanAskedText(plan: string | null, lacking: readonly LackingReadings[]): string {
  const named = lacking.length > 2 ? lacking.slice(0, 1) : lacking;
  const rest = lacking.length - named.length;
  return `measured with less than ${plan ?? "the plan"} asks for: ${named.map(lackingText).join("; ")}${rest > 0 ? `; and ${rest} more` : ""}`;
}

const COMPARED_ON: Readonly<Record<ComparedOn, string>> = {
  value: "",
  smallest: " (smallest)",
  largest: " (largest)",
  "offset-12": " (towards 12 o'clock, twice the offset)",
  "offset-3": " (towards 3 o'clock, twice the offset)",
};

const sizeText = ({ value, unit, uncertainty }: ToldValue): string =>
  `${valueText(value, unit)} (${uncertaintyText(uncertainty, unit)})`;

function disagreementText({ on, lower, higher }: DisagreementReason): string {
  const say = (one: ToldValue): string => `${one.by} ${sizeText(one)}`;
  return `inspections disagree by more than both uncertainties${COMPARED_ON[on]}: ${say(lower)}, ${say(higher)}`;
}

function boundText(one: ToldValue & { readonly isFelt: boolean }, word: string): string {
  return `${one.by} ${one.isFelt ? `by plugs or bar ${word} ` : ""}${sizeText(one)}`;
}

/** Why a characteristic was not measured, is not proven, or fails otherwise than by its number; without a full stop. */
export function judgingReasonText(reason: JudgingReason): string {
  switch (reason.code) {
    case "not-estimable":
      return "not estimable from these readings";
    case "not-given":
      return reason.why;
    case "readings-missing": {
      const { labels, isSaid } = reason;
      if (labels.length === 1) return `reading ${labels[0]} ${isSaid ? "could not be taken" : "is missing"}`;
      return `${labels.length} readings ${isSaid ? "could not be taken" : "are missing"}, first ${labels[0]}`;
    }
    case "reading-off-scale":
      return `reading ${reason.label} is off the scale, ${reason.side}`;
    case "gauge-off-scale":
      return `${reason.label} is off the scale of its gauge, ${reason.side}`;
    case "disagreement":
      return disagreementText(reason);
    case "bounds-conflict":
      return `inspections contradict each other by more than both uncertainties: ${boundText(reason.least, "at least")}, ${boundText(reason.most, "at most")}`;
    case "less-than-asked":
      return lessThanAskedText(reason.plan, reason.lacking);
    case "asked-not-measured":
      return `${reason.plan} asks for it, and it was not measured`;
    case "proven": {
      const proof = reason.own === null ? `proven by ${reason.by}` : judgingReasonText(reason.own);
      return reason.disagreement === null ? proof : `${proof}; ${disagreementText(reason.disagreement)}`;
    }
    case "trials-missing":
    case "plugs-contradict":
    case "plug-contradicts-reading":
    case "plug-bounds":
    case "unknown-set":
    case "bars-contradict":
    case "bar-contradicts-reading":
    case "bar-bounds":
      return feltReasonText(reason);
    default:
      return doubtText(reason);
  }
}

function wideningText(reason: WideningReason): string {
  return reason.code === "step" ? `readings in steps of ${reason.stepUm} µm` : `the shell at ${reason.temperatureC} °C`;
}

/** A judged characteristic as it is kept, sent and shown. */
export function toldCharacteristic(judged: JudgedCharacteristic): ToldCharacteristic {
  const { reason, widenedBy } = judged;
  const words = {
    ...(reason === undefined ? {} : { reason: judgingReasonText(reason) }),
    ...(widenedBy === undefined ? {} : { widenedBy: widenedBy.map(wideningText) }),
  };
  // In place: files and answers keep the order of their fields.
  return Object.assign({ ...judged }, words);
}

/** Several characteristics as they are kept, sent and shown. */
export const toldCharacteristics = (judged: readonly JudgedCharacteristic[]): readonly ToldCharacteristic[] =>
  judged.map(toldCharacteristic);

/** A judgement as it is kept, sent and shown. */
export const toldJudgement = (judgement: FrameJudgement): ToldJudgement => ({
  ...judgement,
  characteristics: toldCharacteristics(judgement.characteristics),
});
