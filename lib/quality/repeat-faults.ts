import { rejectedDiameter } from "../core/metrology/bore-regularity";
import { measureFrame } from "../core/metrology/measure-frame";
import { boreStepUm } from "./rejected-reading-doubts";
import { sweepFaults, type Regularity } from "./sweep-doubts";
import type { RejectedReason, SweepReason } from "./judging-reason";

/** Readings to take again while the shell is on the stand, and why. */
export type RepeatFault = { readonly readings: readonly number[]; readonly reason: SweepReason | RejectedReason };

const SEATS = ["ds", "nds"] as const;

/**
 * What a station asks to measure again before the frame is finished: sweeps that are not regular, and diameters that the others of
 * their seat reject, by the tests of the verdict.
 *
 * @param regularity.readings - so far; sweeps and seats that are not complete may be among them
 */
export function repeatFaults({ compiled, readings }: Pick<Regularity, "compiled" | "readings">): RepeatFault[] {
  const measurement = measureFrame(compiled, readings);
  const stepUm = boreStepUm(compiled, readings);
  const diameters = SEATS.flatMap((seat): RepeatFault[] => {
    const design = compiled.designs.bores[seat];
    const found = design === null ? null : rejectedDiameter(design, readings, stepUm);
    if (found === null) return [];
    const { index, byUm } = found;
    const label = compiled.labels[index] ?? "";
    return [{ readings: [index], reason: { code: "reading-rejected", label, byUm, of: "seat" } }];
  });
  return [...sweepFaults({ compiled, readings }, measurement), ...diameters];
}
