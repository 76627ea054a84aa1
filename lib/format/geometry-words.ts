import type { Estimate } from "@/lib/core/errors";
import type { DrawnFeature } from "@/lib/core/metrology/monte-carlo-uncertainty";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { GeometryAnswer, NameProblem, NoCircleReason, SectionCircles } from "@/lib/quality/geometry-answer";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { toldCharacteristics } from "./judging-words";
import { type ToldFrameMeaning, toldFrameMeaning } from "./meaning-words";

/** What is wrong with a name or its reading, without a full stop. */
export function nameProblemText(problem: NameProblem): string {
  const { name } = problem;
  switch (problem.code) {
    case "no-name":
      return problem.why;
    case "length-beyond":
      return `${name} must lie above 0 and at most at ${problem.mostMm} mm; got ${problem.value}`;
    case "deviation-beyond":
      return `${name} must lie within ${problem.mostUm} µm of zero; got ${problem.value}`;
    case "given-twice":
      return `${name} and ${problem.before} are the same reading: give it once`;
    case "too-deep":
      return `${name} lies deeper than the seat, ${problem.seatDepthMm} mm`;
    case "not-a-reading":
      return "has no number: plugs and the bar are sent as words";
    case "not-a-plug":
      return "must name a plug, (ds|nds).plug.SIZE";
    case "not-a-bar":
      return "must name a bar, bar.SET";
    case "bar-of-a-twice":
      return "bar is the bar of set A: give it once";
  }
}

function noCircleText(reason: NoCircleReason): string {
  return reason.code === "not-given"
    ? reason.why
    : `reference circles need at least ${reason.needed} points; there are ${reason.points}`;
}

type ToldCircles = Omit<SectionCircles, "reason"> & { readonly reason: string | null };

const toldCircles = (circles: SectionCircles): ToldCircles => ({
  ...circles,
  reason: circles.reason === null ? null : noCircleText(circles.reason),
});

type MonteCarlo = NonNullable<GeometryAnswer["monteCarlo"]>;

/** The answer as it is sent: everything that people read in words. */
export type ToldGeometry = Omit<GeometryAnswer, "characteristics" | "circles" | "meaning" | "monteCarlo"> & {
  readonly characteristics: readonly ToldCharacteristic[];
  readonly circles: readonly ToldCircles[];
  readonly meaning: ToldFrameMeaning;
  readonly monteCarlo: (Pick<MonteCarlo, "alignment"> & { readonly functionalSize: Estimate<DrawnFeature> }) | null;
};

function toldMonteCarlo({ alignment, functionalSize }: MonteCarlo): NonNullable<ToldGeometry["monteCarlo"]> {
  const none = { ok: false, reason: "the readings place no pair of seats" } as const;
  return { alignment, functionalSize: functionalSize ?? none };
}

/** @param seenFrom - the side from which sentences name clock positions */
export function toldGeometry(answer: GeometryAnswer, seenFrom: Seat): ToldGeometry {
  const { characteristics, circles, meaning, monteCarlo } = answer;
  return {
    ...answer,
    characteristics: toldCharacteristics(characteristics),
    circles: circles.map(toldCircles),
    meaning: toldFrameMeaning(meaning, seenFrom),
    monteCarlo: monteCarlo === null ? null : toldMonteCarlo(monteCarlo),
  };
}
