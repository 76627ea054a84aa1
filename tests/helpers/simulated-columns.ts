import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { FEATURE_NAMES, type FeatureName } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { guardBand } from "@/lib/quality/conformity";
import { failsIn, liesOutside } from "@/lib/quality/baseline";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import type { LineColumns } from "@/lib/quality/alarm/run-line";
import { judgeFrame } from "@/lib/quality/judge-frame";
import { measureShell, type MeasuringState } from "@/lib/simulation/measure-shell";
import { drawShell, type ProcessState } from "@/lib/simulation/shell-truth";
import { steadyMeasuring, steadyProcess } from "@/lib/simulation/steady-process";

/** What the process and the measuring are at a frame; the steady ones where it changes nothing. */
export type SimulatedFrame = (
  frame: number,
  process: ProcessState,
  measuring: MeasuringState,
) => { readonly process: ProcessState; readonly measuring: MeasuringState };

/** Simulated frames of a drawing, measured by its full plan and judged, as the columns that streams are run over. */
export function simulatedColumns(
  drawing: ShellDrawing,
  frames: number,
  { seed, at }: { readonly seed: number; readonly at?: SimulatedFrame },
): LineColumns {
  const random = createSeededGenerator(seed);
  const names = fullPlan(drawing);
  const compiled = compileMeasurement(names, drawing);
  const [process, measuring] = [steadyProcess(drawing), steadyMeasuring(drawing)];
  const columns = new Map<FeatureName, number[]>(FEATURE_NAMES.map((name) => [name, []]));
  const verdicts: ReturnType<typeof judgeFrame>["characteristics"][] = [];
  for (let frame = 0; frame < frames; frame++) {
    const now = at?.(frame, process, measuring) ?? { process, measuring };
    const readings = measureShell(names, drawShell(now.process, random), drawing, now.measuring, random);
    const measurement = measureFrame(compiled, readings);
    for (const [name, column] of columns) column.push(measurement.features[name].value ?? Number.NaN);
    verdicts.push(judgeFrame(drawing, compiled, measurement).characteristics);
  }
  const subjectOf = ({ key, characteristic, seat }: AlarmStream) => ({
    characteristic,
    seat: key === "offset" ? ("nds" as const) : seat,
  });
  return {
    frames,
    column: (feature) => columns.get(feature) ?? [],
    guarded({ characteristic }) {
      const limits = drawing.characteristics.find(({ name }) => name === characteristic);
      if (limits === undefined) return { lower: null, upper: null };
      const guard = guardBand(drawing.decisionRule, limits.uncertainty);
      return {
        lower: limits.lower === null ? null : limits.lower + guard,
        upper: limits.upper === null ? null : limits.upper - guard,
      };
    },
    isFailing: (frame, stream) => failsIn(verdicts[frame] ?? [], subjectOf(stream)),
    isOutside: (frame, stream) => stream.statistic !== "range" && liesOutside(verdicts[frame] ?? [], subjectOf(stream)),
    boreReadings: names.filter((name) => name.kind === "bore" && name.seat === "ds").length,
  };
}
