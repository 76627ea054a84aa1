import type { Estimate } from "@/lib/core/errors";
import type { RunningClearance } from "@/lib/core/fit/running-clearance";
import type { PairCylinder } from "@/lib/core/metrology/functional-size";
import type { GaugeBarPassage } from "@/lib/core/metrology/gauge-bar";
import { formatClock, type Seat } from "@/lib/core/metrology/reading-name";
import type { CompoundSalvage, SalvageOption } from "@/lib/core/metrology/salvage";
import type { UnseenLobe } from "@/lib/core/metrology/unseen-lobes";
import type { CalledFor, FrameMeaning, SalvageMeanings } from "@/lib/quality/frame-meaning";
import type {
  BarMeaning,
  ClearanceMeaning,
  CompoundMeaning,
  FacingMeaning,
  FitMeaning,
  FunctionalMeaning,
  MeaningResult,
  MeaningUncertainty,
  NoMeaningReason,
  ReamMeaning,
  SeatFit,
  SeatTilt,
  TiltMeaning,
} from "@/lib/quality/meaning";
import { type ToldEvidence, toldEvidence } from "./evidence-words";
import { formatArcMinutes, formatFixed } from "./number-text";

/**
 * One thing that the readings of a frame mean: the data, and what a person reads. `figure` is the short form beside the
 * title, `sentence` stands alone, `explanation` says how it was computed.
 */
export type ToldMeaning<T> = {
  readonly title: string;
  readonly figure: string | null;
  readonly sentence: string;
  readonly result: Estimate<T>;
  /** Of the number that the sentence names first. */
  readonly uncertainty: MeaningUncertainty | null;
  readonly assumptions: readonly string[];
  readonly explanation: string;
};

type Wording = Pick<ToldMeaning<unknown>, "title" | "explanation" | "assumptions">;
type Answer = { readonly figure: string; readonly sentence: string };

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

const wholeUm = (valueUm: number): string => formatFixed(valueUm, 0);
const rangeUm = (low: number, high: number): string => `${wholeUm(low)} to ${wholeUm(high)} µm`;
const diameterText = (valueMm: number): string => `ø ${formatFixed(valueMm, 3)}`;
const possibleText = (possible: boolean): string => (possible ? "possible" : "not possible");

/** A clock position as read from a side: mirrored from the non-drive side. */
function clockFrom(angleDeg: number, side: Seat): string {
  return formatClock(side === "ds" ? angleDeg : -angleDeg);
}

/** "at 1:30 and 7:30", each position once. */
function clocksText(anglesDeg: readonly number[], side: Seat): string {
  return `at ${[...new Set(anglesDeg.map((angle) => clockFrom(angle, side)))].join(" and ")}`;
}

const NO_MEANING: Readonly<Record<Exclude<NoMeaningReason["code"], "not-given" | "no-diameters">, string>> = {
  "clearance-beyond-grooves": "the running clearance is larger than the grooves hold",
  "no-sweep": "no sweep placed one seat to the other",
  "no-upper-size": "the drawing has no upper limit of the size",
  "no-lower-width": "the drawing has no lower limit of the width",
  "no-width": "the width was not measured",
  "no-face": "a face was not swept",
};

function noMeaningText(reason: NoMeaningReason): string {
  if (reason.code === "not-given") return reason.why.replace(/^not estimable: /, "");
  if (reason.code !== "no-diameters") return NO_MEANING[reason.code];
  return reason.seat === null
    ? "the seat's diameters were not measured"
    : `the diameters of the ${NAME[reason.seat]} seat were not measured`;
}

/** A meaning as it is sent and shown; without an answer the reason is the sentence. */
function told<T>(
  { result, uncertainty }: { readonly result: MeaningResult<T>; readonly uncertainty: MeaningUncertainty | null },
  { title, explanation, assumptions }: Wording,
  say: (value: T) => Answer,
): ToldMeaning<T> {
  if (result.ok) {
    const { figure, sentence } = say(result.value);
    const { value } = result;
    return {
      title,
      figure,
      sentence,
      result: { ok: true, value, warnings: [] },
      uncertainty,
      assumptions,
      explanation,
    };
  }
  const why = noMeaningText(result.reason);
  const sentence = `Not estimable: ${why}.`;
  return { title, figure: null, sentence, result: { ok: false, reason: why }, uncertainty, assumptions, explanation };
}

function toldFit(meaning: FitMeaning): ToldMeaning<SeatFit> {
  const { seat, part, limits } = meaning;
  const [least, most] = [formatFixed(limits.leastMm, 3), formatFixed(limits.mostMm, 3)];
  const wording = {
    title: `Fit, ${NAME[seat]}`,
    explanation: `Smallest and largest size of the ${part} less the mean size of the seat (ISO 286).`,
    assumptions: [`${part} anywhere within ø ${least} to ${most} mm`, "part and shell at one temperature"],
  };
  return told(meaning, wording, ({ kind, leastUm, mostUm }) => {
    const words =
      mostUm <= 0
        ? `Clearance ${NAME[seat]} ${rangeUm(-mostUm, -leastUm)}`
        : `Interference ${NAME[seat]} ${rangeUm(leastUm, mostUm)}`;
    return {
      figure: `${part} ø ${least} to ${most}`,
      sentence: kind === "transition" ? `${words}: some will be loose.` : `${words}.`,
    };
  });
}

const RUNNING = { "runs free": "free", drags: "drags", preloaded: "preloaded" } as const;

function toldClearance(meaning: ClearanceMeaning): ToldMeaning<RunningClearance> {
  const { seat, bearing, inCupUm, shell, warmerByK } = meaning;
  const wording = {
    title: `Running clearance, ${NAME[seat]}`,
    explanation:
      "Radial internal clearance (ISO 5753-1) less the contraction of the outer raceway by the press fit (Lamé), between the shell's own wall and an endless wall.",
    assumptions: [
      `bearing ${bearing.designation}, ${bearing.clearanceClass} ${bearing.clearanceUm[0]} to ${bearing.clearanceUm[1]} µm`,
      ...(inCupUm === null ? [] : [`bearing in its cup ${rangeUm(...inCupUm)} tight before mounting`]),
      `shell ${shell.material}, outside ø ${shell.outsideDiameterMm} mm`,
      warmerByK === 0 ? "at 20 °C" : `${warmerByK} K over 20 °C`,
      "inner ring's fit on the axle takes nothing",
    ],
  };
  return told(meaning, wording, ({ clearance: { minUm, meanUm, maxUm }, verdict }) => {
    const mean = meanUm >= 0.5 ? `+${wholeUm(meanUm)}` : wholeUm(meanUm);
    return {
      figure: `${RUNNING[verdict]}, ${mean}`,
      sentence: `${NAME[seat]} ${verdict}: ${rangeUm(minUm, maxUm)}, mean ${mean} µm.`,
    };
  });
}

function toldTilt(meaning: TiltMeaning): ToldMeaning<SeatTilt> {
  const { seat, ballDiameterMm, grooveFactor, makerTiltArcmin } = meaning;
  const wording = {
    title: `Angle in the bearing, ${NAME[seat]}`,
    explanation:
      "Tilt of the seat to the line through both bearing centres, against the free tilt of the bearing at its mean running clearance (Harris, exact form).",
    assumptions:
      makerTiltArcmin === null
        ? [`ball ø ${ballDiameterMm} mm, groove factor ${grooveFactor}`, "no clearance, no free tilt"]
        : ["the maker's permissible tilt"],
  };
  const takes = makerTiltArcmin === null ? "free" : "allowed";
  return told(meaning, wording, ({ tiltArcmin, allowedArcmin, verdict }) => {
    const tilt = formatArcMinutes(tiltArcmin);
    const allowed = formatArcMinutes(allowedArcmin);
    return {
      figure: tilt,
      sentence:
        verdict === "within"
          ? `${NAME[seat]} ${tilt} of ${allowed} ${takes}.`
          : allowedArcmin === 0
            ? `${NAME[seat]} ${tilt}, and without clearance the bearing takes none.`
            : `${NAME[seat]} ${tilt}, only ${allowed} ${takes}.`,
    };
  });
}

function unseenText(unseen: readonly UnseenLobe[]): string {
  const lobes = unseen.map(({ seat, order }) => {
    const where = `of the ${NAME[seat]} seat`;
    if (order === 2) return `oval and lobes ${where}`;
    return order === 3
      ? `odd lobes ${where} (a two-point gauge is blind to them)`
      : `lobes ${where} from the ${order}th on`;
  });
  return [...lobes, "a bell mouth outside the measured sections"].join(", ");
}

function toldFunctional(meaning: FunctionalMeaning, side: Seat): ToldMeaning<PairCylinder> {
  const { unseen, binds } = meaning;
  const wording = {
    title: "Largest bar that passes",
    explanation: "Largest cylinder inside the measured sections of both seats on one free axis.",
    assumptions: [
      "sections as measured: mean size, oval from the diameters, every further lobe that the sweep's angles see",
      "seats not extended beyond the measured sections",
      `unseen lobes as large as the drawing's ovality lets them be: ${unseen.length === 0 ? "none" : "part of the uncertainty"}`,
    ],
  };
  return told(meaning, wording, ({ diameterMm }) => ({
    figure: diameterText(diameterMm),
    sentence: `Binds first on the ${NAME[binds?.seat ?? "ds"]} seat, ${clocksText(binds?.clockDeg ?? [], side)}. Not seen: ${unseenText(unseen)}.`,
  }));
}

function toldBar(meaning: BarMeaning, side: Seat): ToldMeaning<GaugeBarPassage> {
  const { set } = meaning;
  const wording = {
    title: "Gauge bar",
    explanation: "Gauge bore less bar less gauge length times the tilt of the seat; the worse seat decides.",
    assumptions: [
      `bar ø ${formatFixed(set.barMm, 3)}, gauge bore ø ${formatFixed(set.gaugeBoreMm, 3)}, gauge ${set.gaugeLengthMm} mm long`,
      "gauges sit without play (common practice, no source)",
    ],
  };
  return told(meaning, wording, ({ result, clearanceUm, worse, seats }) => {
    const { innerContactDeg, outerContactDeg } = seats[worse];
    const touching =
      result === "free" || innerContactDeg === null || outerContactDeg === null
        ? ""
        : `, touching at the inner edge at ${clockFrom(innerContactDeg, side)} and the outer edge at ${clockFrom(outerContactDeg, side)}`;
    return {
      figure: result,
      sentence: `${NAME[worse]} decides with ${wholeUm(clearanceUm)} µm of clearance${touching}.`,
    };
  });
}

function toldReam(meaning: ReamMeaning): ToldMeaning<SalvageOption> {
  const wording = {
    title: "Line-ream",
    explanation: "Smallest cylinder on one free axis that takes in both seats, against the upper limit of the size.",
    assumptions: ["the reamer cuts to that size on that axis", "the frame's maker allows reaming"],
  };
  return told(meaning, wording, (option) => {
    const { marginUm: margin, value } = option.estimable ? option : { marginUm: 0, value: 0 };
    const size = diameterText(value);
    return {
      figure: possibleText(margin >= 0),
      sentence:
        margin >= 0
          ? `One axis, ${size}: stays ${wholeUm(margin)} µm under the limit.`
          : `One axis, ${size}: ${wholeUm(-margin)} µm over the limit.`,
    };
  });
}

function toldFacing(meaning: FacingMeaning): ToldMeaning<SalvageOption> {
  const { mostPerSideMm, cut } = meaning;
  const wording = {
    title: "Facing",
    explanation: "Smallest width less the run-out of each face over its whole diameter, against the minimum width.",
    assumptions: [`at most ${mostPerSideMm} mm off a side`, "both faces cut square to their seats"],
  };
  return told(meaning, wording, (option) => {
    const left = option.estimable ? option.value : 0;
    const { dsUm, ndsUm, minimumMm } = cut ?? { dsUm: 0, ndsUm: 0, minimumMm: 0 };
    return {
      figure: possibleText(option.estimable && option.possible),
      sentence: `Square faces take ${wholeUm(dsUm)} µm DS and ${wholeUm(ndsUm)} µm NDS and leave ${formatFixed(left, 2)} mm; the minimum is ${formatFixed(minimumMm, 2)} mm.`,
    };
  });
}

function toldCompound(meaning: CompoundMeaning): ToldMeaning<CompoundSalvage> {
  const { seat, part, range } = meaning;
  const wording = {
    title: `Retaining compound, ${NAME[seat]}`,
    explanation: `Gap between the measured seat and the ${part}, against what a compound fills.`,
    assumptions: [`compound for ${rangeUm(range.leastMm * 1000, range.mostMm * 1000)} of diametral gap`],
  };
  return told(meaning, wording, (option) => {
    const [least, most] = option.gapMm ?? [0, 0];
    const gap = rangeUm(least * 1000, most * 1000);
    const sentences = {
      fits: `Gap ${gap}: a compound holds it.`,
      "fits-below-best": `Gap ${gap}: a compound holds it, below its best range.`,
      "no-gap": most <= 0 ? "No gap: the press fit holds without a compound." : `Gap ${gap}: too tight for a compound.`,
      "needs-sleeve": `Gap ${gap}: more than a compound fills; it needs a sleeve.`,
    } as const;
    return {
      figure: possibleText(option.estimable && option.possible),
      sentence: sentences[option.finding ?? "no-gap"],
    };
  });
}

export type ToldBearing = {
  readonly fit: ToldMeaning<SeatFit>;
  readonly clearance: ToldMeaning<RunningClearance>;
  readonly tilt: ToldMeaning<SeatTilt>;
};

/** The panel "What this means" of one frame, as it is sent and shown. */
export type ToldFrameMeaning = {
  readonly bearings: Readonly<Record<Seat, ToldBearing>>;
  readonly functionalSize: ToldMeaning<PairCylinder>;
  readonly gaugeBar: ToldMeaning<GaugeBarPassage>;
  readonly salvage: {
    readonly ream: ToldMeaning<SalvageOption> & CalledFor;
    readonly facing: ToldMeaning<SalvageOption> & CalledFor;
    readonly compound: Readonly<Record<Seat, ToldMeaning<CompoundSalvage> & CalledFor>>;
    readonly summary: SalvageMeanings["summary"];
  };
  readonly evidence: ToldEvidence;
  readonly cautions: FrameMeaning["cautions"];
  readonly note: string;
};

const NOTE =
  "Screening estimates at 20 °C: the limits of the bearing's, the cup's and the frame's makers decide. Reaming and facing dust, solvents and compounds need gloves, eye protection, ventilation and the maker's data sheet.";

/**
 * What the readings of one frame mean, in words with their numbers.
 *
 * @param seenFrom - the side from which the sentences name clock positions; the data stay as from the drive side
 */
export function toldFrameMeaning(meaning: FrameMeaning, seenFrom: Seat = "ds"): ToldFrameMeaning {
  const { bearings, functionalSize, gaugeBar, salvage, evidence, cautions } = meaning;
  const bearing = (seat: Seat): ToldBearing => ({
    fit: toldFit(bearings[seat].fit),
    clearance: toldClearance(bearings[seat].clearance),
    tilt: toldTilt(bearings[seat].tilt),
  });
  const { ream, facing, compound, summary } = salvage;
  const compoundOf = (seat: Seat) => ({ ...toldCompound(compound[seat]), calledFor: compound[seat].calledFor });
  return {
    bearings: { ds: bearing("ds"), nds: bearing("nds") },
    functionalSize: toldFunctional(functionalSize, seenFrom),
    gaugeBar: toldBar(gaugeBar, seenFrom),
    salvage: {
      ream: { ...toldReam(ream), calledFor: ream.calledFor },
      facing: { ...toldFacing(facing), calledFor: facing.calledFor },
      compound: { ds: compoundOf("ds"), nds: compoundOf("nds") },
      summary,
    },
    evidence: toldEvidence(evidence),
    cautions,
    note: NOTE,
  };
}
