import type { CauseCode } from "../cases/case";
import type { WhyFactor } from "./why-reading";

const FACTOR: Readonly<Partial<Record<CauseCode, WhyFactor>>> = {
  "reamer worn": "tool",
  "reamer changed": "tool",
  "fixture moved": "fixture",
  mould: "mould",
  gauge: "gauge",
  inspector: "inspector",
  "material lot": "supplier",
};

const AT_THE_MACHINE: readonly CauseCode[] = ["reamer worn", "reamer changed", "fixture moved", "mould"];

/** By what frames are compared where a cause is likely; by shift for a cause that has no label of its own. */
export function factorOfCause(cause: CauseCode | undefined): WhyFactor {
  return (cause === undefined ? undefined : FACTOR[cause]) ?? "shift";
}

/** Whether somebody reaches into a machine to look at a cause or to put it right. */
export function isAtTheMachine(cause: CauseCode): boolean {
  return AT_THE_MACHINE.includes(cause);
}
