import { formatCounted } from "@/lib/format/number-text";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";

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
  if (batchHeld) return `Batch ${batch} is held: until somebody has decided, its frames cannot ship.`;
  const open = [
    ...(isSent ? [] : ["its readings are on the server"]),
    ...(left === 0
      ? []
      : [`the ${formatCounted(left, "frame")} left of its batch ${left === 1 ? "is" : "are"} measured`]),
  ];
  return open.length === 0 ? "Can ship." : `Can ship once ${open.join(" and ")}.`;
}

/** What helps a frame that is not proven: as a rule cleaning and measuring again, unless something else was in doubt. */
function notProvenStep(code: FrameStands["code"]): Step {
  switch (code) {
    case "temperature":
      return {
        title: "Let it settle, measure again",
        text: "The shell was too warm or too cold, or nobody knows how warm. Until it is measured again, it cannot ship.",
      };
    case "sweep-irregular":
    case "sweep-not-closed":
    case "travel-clipped":
      return {
        title: "Seat the indicator, sweep again",
        text: "The sweep was not regular. Until it is swept again, it cannot ship.",
      };
    case "no-gauge":
    case "wrong-gauge":
    case "gauge-range":
    case "never-checked":
    case "zero-drifted":
      return {
        title: "Measure again, gauge in order",
        text: "What took these readings proves nothing; the reasons say which and why. Until then it cannot ship.",
      };
    case "disagreement":
    case "felt-contradicts":
      return {
        title: "Label it, call the engineer",
        text: "Two results cannot both be right. Somebody who took neither decides which counts; until then it cannot ship.",
      };
    default:
      return {
        title: "Clean it and measure again",
        text: "A value lies inside the uncertainty. If it stays so, the engineer decides; it cannot ship.",
      };
  }
}

/** What to do with a frame that may not pass. */
function holdStep({ verdict, code }: FrameStands, rework: Step | null): Step {
  switch (verdict) {
    case "conforms":
      return {
        title: "Label it, put it on the hold rack",
        text: "Its values conform, but its gauge proves nothing. Measure it again with a gauge in order, or call the engineer: until then it cannot ship.",
      };
    case "not measured":
      return {
        title: "Measure what is missing",
        text: "Until then the frame is held and it cannot ship.",
      };
    case "not proven":
      return notProvenStep(code);
    case "does not conform":
      if (rework !== null)
        return {
          title: rework.title,
          text: `${rework.text} Label it, put it on the rework rack; an engineer decides. Until it is measured again, it cannot ship.`,
        };
      return {
        title: "Label it, put it on the hold rack",
        text: "Call the engineer. Until it is measured again or decided on, it cannot ship.",
      };
  }
}

/** What to do with the frame now, by its verdict: the next step of the reaction plan. */
export function nextStep(stands: FrameStands, rework: Step | null): Step {
  const { verdict, isHeld, isWithdrawn, isSent, isAgain, batch, batchHeld } = stands;
  if (isWithdrawn)
    return {
      title: "Measure it again",
      text: "This inspection counts no more; its record stays with the reason. Earlier ones that are valid still count.",
    };
  if (stands.isRefused)
    return {
      title: "Decide what the server asks",
      text: "It did not take this inspection; the readings are saved on this tablet. Open the box at the top, then put the frame where it belongs.",
    };
  if (isAgain && !isSent)
    return {
      title: "Label it, keep it at the station",
      text: "It was measured before, and all its valid inspections decide together. The server has the earlier ones: its answer comes when the readings are there.",
    };
  if (isHeld) {
    const { title, text } = holdStep(stands, rework);
    return { title, text: batchHeld ? `${text} Batch ${batch} is held.` : text };
  }
  const doubt = verdict === "conforms" ? "" : "A doubt that does not hold the frame; the engineer sees it. ";
  return { title: "To the rack of good frames", text: `${doubt}${shipScan(stands)}` };
}
