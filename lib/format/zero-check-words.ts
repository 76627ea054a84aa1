import type { ZeroCheckReason } from "@/lib/quality/zero-check-due";

const WHY = {
  knocked: "it was knocked",
  "never-checked": "it was never checked",
  "shift-began": "the shift began",
  "batch-measured": "the batch is measured",
} as const;

/** Why a gauge has to be shown its ring now: short, without a full stop. */
export function zeroCheckText(reason: ZeroCheckReason): string {
  switch (reason.code) {
    case "hours":
      return `the last one is ${reason.hours} h ago`;
    case "frames":
      return `${reason.frames} frames since the last one`;
    default:
      return WHY[reason.code];
  }
}
