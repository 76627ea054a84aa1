import { formatCounted, formatMoney } from "@/lib/format/number-text";

/** Texts of what our own causes cost. */
export const COSTS_WORDS = {
  title: "Own causes",
  headline: (cost: number, decisions: number) =>
    decisions === 0 ? "No decision rests on a cause of ours" : `Our own causes: ${formatMoney(cost)} booked`,
  lead: (decisions: number, frames: number, without: number) =>
    `${formatCounted(decisions, "decision")} on ${formatCounted(frames, "frame")}, in the plant’s money${without === 0 ? "." : `; of ${without} nobody entered an amount, so that the sum is too small.`}`,
  none: "Rework, scrap and returns are booked here where the cause is ours: who signs says so, or the evidence does.",
  backToGate: "Back to Gate",
  byMonth: "By month",
  month: "month",
  decisions: "decisions",
  frames: "frames",
  cost: "cost",
  without: "without an amount",
  newest: "Decisions, newest first",
  batch: "batch",
  what: "what was done",
  reason: "reason",
  signed: "signed by",
  notEntered: "not entered",
};
