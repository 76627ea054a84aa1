/** Texts of the month. */
export const MONTH_WORDS = {
  title: "The last 30 days",
  lead: (from: string) => `Since ${from}, by the plant’s clock.`,
  headline: (share: string, lower: string, upper: string) =>
    `${share} conformed when first measured, between ${lower} and ${upper}`,
  none: "Nothing was measured in the last 30 days",
  toToday: "Back to Today",
  lines: "First measured, by line",
  linesAside: "shares with exact intervals of 95 %, frames taken as independent",
  line: "line",
  operation: "operation",
  measured: "measured",
  passed: "conformed",
  share: "share",
  interval: "interval",
  other: "The rest",
  held: (frames: string, hours: string) => `${frames} held now, for ${hours} together.`,
  noneHeld: "No frame is held now.",
  frames: (count: number) => (count === 1 ? "1 frame is" : `${count} frames are`),
  hours: (count: string) => `${count} h`,
  cost: (ours: string, supplier: string, decisions: number) =>
    `Decisions cost ${ours} by our own causes and ${supplier} by suppliers’, as their signers said; ${decisions} named a sum.`,
  noCost: "No decision named what it cost.",
  cases: (opened: number, unfounded: number, borne: string) =>
    `${opened === 1 ? "1 case was" : `${opened} cases were`} opened; ${unfounded} closed without a cause. The budget bears ${borne} false ones.`,
  failures: "Frames that did not conform when first measured",
  failuresAside: (shown: number, failed: number) =>
    shown < failed ? `the newest ${shown} of ${failed}` : `${failed} in all`,
  everyLine: "every line",
  filter: "Lines",
  frame: "frame",
  batch: "batch",
  verdict: "verdict",
  when: "measured",
  noFailure: "Every frame conformed when it was first measured",
  noFailureHint: "Frames that do not are listed here.",
};
