import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import type { ReadingName, Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import type { SeededGenerator } from "../core/numerics/seeded-generator";
import type { Lobe, ShellTruth } from "./shell-truth";

/** How a station measures at the moment: its gauges' errors, and the hand that holds them. */
export type MeasuringState = {
  /** What the bore gauge shows too much, µm: ring, zero, temperature, drift. */
  readonly boreBiasUm: number;
  /** Standard deviation of one two-point reading, µm. */
  readonly boreNoiseUm: number;
  /** Step of the bore gauge's display, mm. */
  readonly boreStepMm: number;
  readonly sweepNoiseUm: number;
  /** Tilt of the axis of rotation against the datum seat's axis, standard deviation of a component, µm per mm. */
  readonly axisErrorUmPerMm: number;
  readonly faceNoiseUm: number;
  readonly widthNoiseMm: number;
};

const RADIANS = Math.PI / 180;

/** Radius minus mean radius in a direction, µm. */
function lobesAt(lobes: readonly Lobe[], angleDeg: number): number {
  let sum = 0;
  for (const { order, amplitudeUm, positionDeg } of lobes)
    sum += amplitudeUm * Math.cos(order * (angleDeg - positionDeg) * RADIANS);
  return sum;
}

function roundTo(value: number, step: number): number {
  const steps = Math.round(value / step);
  return toDecimals(steps * step, 4);
}

function middleDepth(drawing: ShellDrawing): number {
  const depths = drawing.fullPlanDepthsMm;
  return depths.reduce((sum, depth) => sum + depth, 0) / depths.length;
}

/** Centre of a section of the swept seat from the other seat's axis, µm towards 12 and towards 3. */
function sectionOffset(
  truth: ShellTruth,
  drawing: ShellDrawing,
  seat: Seat,
  depthMm: number,
): readonly [number, number] {
  const middle = middleDepth(drawing);
  const ndsMiddleX = drawing.widthMm - middle;
  const x = seat === "nds" ? drawing.widthMm - depthMm : depthMm;
  const along = x - ndsMiddleX;
  const turned = seat === "nds" ? 1 : -1;
  return [
    turned * (truth.offsetUm[0] + truth.slopeUmPerMm[0] * along),
    turned * (truth.offsetUm[1] + truth.slopeUmPerMm[1] * along),
  ];
}

function faceHeight(truth: ShellTruth, drawing: ShellDrawing, seat: Seat, angleDeg: number): number {
  const face = truth.faces[seat];
  const amplitude = (face.runOutUm / 2) * (drawing.faceSweepDiameterMm / drawing.faceLimitDiameterMm);
  return (
    amplitude * Math.cos((angleDeg - face.highSideDeg) * RADIANS) +
    face.wavinessUm * Math.cos(2 * (angleDeg - face.highSideDeg) * RADIANS)
  );
}

/**
 * Measures a shell: what the gauges show for each reading of a plan, in the plan's order. Bore and width in mm, sweeps in
 * µm from any zero; null for plug gauges and bars, which this station does not have.
 */
export function measureShell(
  names: readonly ReadingName[],
  truth: ShellTruth,
  drawing: ShellDrawing,
  state: MeasuringState,
  random: SeededGenerator,
): (number | null)[] {
  const middle = middleDepth(drawing);
  // The axis of rotation is found anew for every frame, so its error is one for all sections of it.
  const axisError = [state.axisErrorUmPerMm * random.normal(), state.axisErrorUmPerMm * random.normal()] as const;
  const zero = Math.round(20 * random.normal());
  return names.map((name) => {
    if (name.kind === "bore") {
      const seat = truth.seats[name.seat];
      const form = lobesAt(seat.lobes, name.directionDeg) + lobesAt(seat.lobes, name.directionDeg + 180);
      const um =
        form + seat.taperUmPerMm * (name.depthMm - middle) + state.boreBiasUm + state.boreNoiseUm * random.normal();
      return roundTo(seat.diameterMm + um / 1000, state.boreStepMm);
    }
    if (name.kind === "sweep") {
      const [o12, o3] = sectionOffset(truth, drawing, name.seat, name.depthMm);
      const lever = drawing.widthMm - name.depthMm - middle;
      const angle = name.angleDeg * RADIANS;
      const centre = (o12 + axisError[0] * lever) * Math.cos(angle) + (o3 + axisError[1] * lever) * Math.sin(angle);
      const um = centre + lobesAt(truth.seats[name.seat].lobes, name.angleDeg) + state.sweepNoiseUm * random.normal();
      return roundTo(zero + um, 0.5);
    }
    if (name.kind === "face") {
      const um = faceHeight(truth, drawing, name.seat, name.angleDeg) + state.faceNoiseUm * random.normal();
      return roundTo(zero + um, 0.5);
    }
    if (name.kind === "width") {
      const um = faceHeight(truth, drawing, "ds", name.clockDeg) + faceHeight(truth, drawing, "nds", name.clockDeg);
      return roundTo(truth.widthMm + um / 1000 + state.widthNoiseMm * random.normal(), 0.005);
    }
    return null;
  });
}
