import { rejectedDiameter } from "../core/metrology/bore-regularity";
import { measureFrame } from "../core/metrology/measure-frame";
import { boreStepUm } from "./rejected-reading-doubts";
import { sweepFaults, type Regularity } from "./sweep-doubts";
import { valueText } from "../format/value-text";

/** Readings to take again while the shell is on the stand, and why. */
export type RepeatFault = { readonly readings: readonly number[]; readonly reason: string };

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
    const off = valueText(Math.abs(found.byUm), "µm");
    const reason = `reading ${compiled.labels[found.index] ?? ""} lies ${off} off the others of its seat: measure that place again`;
    return [{ readings: [found.index], reason }];
  });
  return [...sweepFaults({ compiled, readings }, measurement), ...diameters];
}
