import type { Seat } from "@/lib/core/metrology/reading-name";
import type { CharacteristicName } from "@/lib/core/metrology/shell-drawing";
import type { PlanWarning } from "@/lib/quality/plan-uncertainty";

/** What a plan shorter than the full one does not see of each characteristic. */
const UNSEEN_FORM = {
  bore: "sizes between its directions or at a depth that it leaves out",
  ovality: "an oval between its directions",
  taper: "an oval that its directions do not average out",
  coaxiality: "lobes that its angles take for an offset, or a section that it leaves out",
  tilt: "lobes that its angles take for an offset",
  "face run-out": "waves that its angles take for run-out",
  width: "widths between its positions",
} as const satisfies Record<CharacteristicName, string>;

function seatWord(seat: Seat | null): string {
  return seat === null ? "" : ` (${seat.toUpperCase()})`;
}

const OPEN = "add the plug, rod or bar that can, or readings";

/** What a plan's uncertainty does to a tolerance, in a sentence. */
export function planWarningText(warning: PlanWarning): string {
  const { name } = warning;
  const where = seatWord(warning.seat);
  switch (warning.code) {
    case "large": {
      const share = Math.round(warning.shareOfTolerance * 100);
      return `The uncertainty of ${name}${where} is ${share} % of its tolerance${warning.eatsTolerance ? ": no value can conform" : ""}.`;
    }
    case "felt":
      return warning.canFail
        ? `Plugs and bars of this plan can show ${name}${where} out of its limits and never inside them: ${OPEN}.`
        : `Plugs and bars of this plan prove nothing of ${name}${where}: ${OPEN}.`;
    case "unseen": {
      const from = warning.isKnown ? "as the stream's full plans show them" : "up to the drawing's form limits";
      return `This plan does not see ${UNSEEN_FORM[name]}: the uncertainty of ${name}${where} contains them, ${from}.`;
    }
  }
}
