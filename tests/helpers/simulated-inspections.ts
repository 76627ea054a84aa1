import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { measureShell } from "@/lib/simulation/measure-shell";
import { drawShell } from "@/lib/simulation/shell-truth";
import { steadyMeasuring, steadyProcess } from "@/lib/simulation/steady-process";
import type { TestPlant } from "./plant";
import type { SimulatedFrame } from "./simulated-columns";

const MINUTE = 60_000;
export const SIMULATED_FROM = Date.parse("2026-03-02T06:00:00Z");

export const serialOf = (frame: number): string => `T-${String(frame + 1).padStart(4, "0")}`;

/** Frames T-0001 and so on of the test plant as a simulated process makes them, one a minute. */
export function simulatedInspections(
  plant: TestPlant,
  frames: number,
  { seed, at }: { readonly seed: number; readonly at?: SimulatedFrame },
): RecordInspection[] {
  const random = createSeededGenerator(seed);
  const [process, measuring] = [steadyProcess(PRESS_FIT_41), steadyMeasuring(PRESS_FIT_41)];
  return Array.from({ length: frames }, (_, frame) => {
    const now = at?.(frame, process, measuring) ?? { process, measuring };
    const shell = drawShell(now.process, random);
    const measuredAt = SIMULATED_FROM + frame * MINUTE;
    return {
      ...plant.inspection(serialOf(frame)),
      id: uuidV7(measuredAt),
      readings: measureShell(plant.names, shell, PRESS_FIT_41, now.measuring, random),
      deviceTime: new Date(measuredAt).toISOString(),
      tool: "R-1",
    };
  });
}
