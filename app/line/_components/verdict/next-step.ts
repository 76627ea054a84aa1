import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import { VERDICT_WORDS } from "../../words/verdict";

const words = VERDICT_WORDS.nextStep;

export type Step = { readonly title: string; readonly text: string };

/** How the frame stands whose verdict is shown, as far as this device knows. */
export type FrameStands = {
  readonly verdict: Verdict;
  /** Kind of the first reason; absent where the numbers alone decide. */
  readonly code?: ToldCharacteristic["code"];
  readonly isHeld: boolean;
  readonly isWithdrawn: boolean;
  /** The server has its readings. */
  readonly isSent: boolean;
  readonly batch: string;
  readonly batchHeld: boolean;
  /** Frames of its batch that the plan asks for and nobody has measured. */
  readonly left: number;
  /** The server did not take its readings: a person has to decide. */
  readonly isRefused: boolean;
  /** It was measured before. */
  readonly isAgain: boolean;
};

/** What is said largest: a frame that is held although its values conform is not one for the good rack. */
export function bannerOf({ verdict, isHeld }: FrameStands): Verdict | "held" {
  return isHeld && verdict === "conforms" ? "held" : verdict;
}

/** What the label says of the frame. */
export function labelMarks(stands: FrameStands): readonly (Verdict | "held")[] {
  if (stands.isWithdrawn) return ["not measured"];
  const banner = bannerOf(stands);
  return stands.isHeld && banner !== "held" ? [banner, "held"] : [banner];
}

/** What the ship scan says of a frame that is not held itself: its batch has a word in it, too. */
function shipScan({ batch, batchHeld, isSent, left }: FrameStands): string {
  if (batchHeld) return words.batchIsHeld(batch);
  const open = [
    ...(isSent ? [] : [words.readingsAreOnServer]),
    ...(left === 0 ? [] : [words.leftOfBatchMeasured(left, left === 1 ? words.is : words.are)]),
  ];
  return open.length === 0 ? words.canShip : words.canShipOnce(open.join(words.and));
}

/** What helps a frame that is not proven: as a rule cleaning and measuring again, unless something else was in doubt. */
function notProvenStep(code: FrameStands["code"]): Step {
  switch (code) {
    case "temperature":
      return {
        title: words.letSettleMeasureAgain,
        text: words.shellWasTooWarm,
      };
    case "sweep-irregular":
    case "sweep-not-closed":
    case "travel-clipped":
      return {
        title: words.seatIndicatorSweepAgain,
        text: words.sweepWasNotRegular,
      };
    case "no-gauge":
    case "wrong-gauge":
    case "gauge-range":
    case "never-checked":
    case "zero-drifted":
      return {
        title: words.measureAgainGaugeInOrder,
        text: words.whatTookTheseReadingsProves,
      };
    case "disagreement":
    case "felt-contradicts":
      return {
        title: words.labelCallEngineer,
        text: words.twoResultsCannotBoth,
      };
    default:
      return {
        title: words.cleanAndMeasureAgain,
        text: words.valueLiesInsideUncertainty,
      };
  }
}

/** What to do with a frame that may not pass. */
function holdStep({ verdict, code }: FrameStands, rework: Step | null): Step {
  switch (verdict) {
    case "conforms":
      return {
        title: words.labelItToHoldRack,
        text: words.valuesConform,
      };
    case "not measured":
      return {
        title: words.measureWhatIsMissing,
        text: words.untilThenFrameIsHeld,
      };
    case "not proven":
      return notProvenStep(code);
    case "does not conform":
      if (rework !== null)
        return {
          title: rework.title,
          text: words.labelIt(rework.text),
        };
      return {
        title: words.labelItToHoldRack,
        text: words.callEngineer,
      };
  }
}

/** What to do with the frame now, by its verdict: the next step of the reaction plan. */
export function nextStep(stands: FrameStands, rework: Step | null): Step {
  const { verdict, isHeld, isWithdrawn, isSent, isAgain, batch, batchHeld } = stands;
  if (isWithdrawn)
    return {
      title: words.measureAgain,
      text: words.inspectionCountsNoMore,
    };
  if (stands.isRefused)
    return {
      title: words.decideWhatServerAsks,
      text: words.didNotTakeInspection,
    };
  if (isAgain && !isSent)
    return {
      title: words.labelItKeepAtStation,
      text: words.wasMeasuredBefore,
    };
  if (isHeld) {
    const { title, text } = holdStep(stands, rework);
    return { title, text: batchHeld ? words.batchIsHeldBatch(text, batch) : text };
  }
  const doubt = verdict === "conforms" ? "" : words.doubtDoesNotHoldFrame;
  return { title: words.toRackOfGoodFrames, text: `${doubt}${shipScan(stands)}` };
}
