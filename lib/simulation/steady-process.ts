import type { ShellDrawing } from "../core/metrology/shell-drawing";
import type { MeasuringState } from "./measure-shell";
import type { ProcessState } from "./shell-truth";

/** Share of the bore tolerance that the frame-to-frame standard deviation of a sound process takes (invented). */
const BORE_SD_SHARE = 0.024;

function boreLimits(drawing: ShellDrawing): { middle: number; width: number } {
  const bore = drawing.characteristics.find((characteristic) => characteristic.name === "bore");
  const [lower, upper] = [bore?.lower ?? null, bore?.upper ?? null];
  if (lower === null || upper === null) return { middle: drawing.nominalBoreMm, width: 0.05 };
  return { middle: (lower + upper) / 2, width: upper - lower };
}

/**
 * A sound process for a drawing: centred, with a spread that leaves the guard bands of its limits alone. The finer the
 * tolerance, the finer the machine. All numbers are invented.
 */
export function steadyProcess(drawing: ShellDrawing): ProcessState {
  const { middle, width } = boreLimits(drawing);
  const fine = width < 0.03 ? 0.4 : 1;
  return {
    boreMm: { ds: middle + 0.0005 * fine, nds: middle - 0.0005 * fine },
    boreSdUm: BORE_SD_SHARE * width * 1000,
    taperUmPerMm: -0.1,
    taperSdUmPerMm: 0.12 * fine,
    ovalUm: 1.2 * fine,
    ovalSdUm: 0.4 * fine,
    ovalPositionDeg: null,
    threeLobeUm: 0.8 * fine,
    offsetUm: [3, -2],
    offsetSdUm: 6,
    slopeSdUmPerMm: 0.04,
    faceRunOutUm: 7,
    faceWavinessUm: 1.5,
    widthMm: drawing.widthMm,
    widthSdMm: 0.02,
  };
}

/** A station in order: gauges zeroed, a steady hand. All numbers are invented; the budget is that of the drawings. */
export function steadyMeasuring(drawing: ShellDrawing): MeasuringState {
  const fine = boreLimits(drawing).width < 0.03;
  return {
    boreBiasUm: 0,
    boreNoiseUm: fine ? 0.5 : 1.2,
    boreStepMm: fine ? 0.0005 : 0.001,
    sweepNoiseUm: fine ? 0.7 : 1,
    axisErrorUmPerMm: 0.03,
    faceNoiseUm: 1.4,
    widthNoiseMm: 0.008,
  };
}
