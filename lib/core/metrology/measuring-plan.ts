import type { ReadingName, Seat } from "./reading-name";
import type { ShellDrawing } from "./shell-drawing";

const FULL_DIRECTIONS_DEG = [0, 45, 90, 135];
const ROUTINE_DIRECTIONS_DEG = [0, 60, 120];
const EIGHTHS_DEG = [0, 45, 90, 135, 180, 225, 270, 315];
const QUARTERS_DEG = [0, 90, 180, 270];

function bores(seat: Seat, depthsMm: readonly number[], directionsDeg: readonly number[]): ReadingName[] {
  return directionsDeg.flatMap((directionDeg) =>
    depthsMm.map((depthMm): ReadingName => ({ kind: "bore", seat, depthMm, directionDeg })),
  );
}

function sweeps(seat: Seat, depthsMm: readonly number[], anglesDeg: readonly number[]): ReadingName[] {
  return depthsMm.flatMap((depthMm) =>
    anglesDeg.map((angleDeg): ReadingName => ({ kind: "sweep", seat, depthMm, angleDeg })),
  );
}

/**
 * The full plan of a drawing: every characteristic with the uncertainty of the drawing's table. Two full-plan sections
 * give 44 readings: 4 directions x 2 depths per seat, both depths at one direction before the gauge is turned; NDS sweep
 * of 8 angles at both depths; 4 angles on each face; widths at 12, 3, 6 and 9. All DS bores come first, so that the frame
 * is turned once.
 */
export function fullPlan(drawing: ShellDrawing): ReadingName[] {
  const depths = drawing.fullPlanDepthsMm;
  const face = (seat: Seat): ReadingName[] => QUARTERS_DEG.map((angleDeg) => ({ kind: "face", seat, angleDeg }));
  return [
    ...bores("ds", depths, FULL_DIRECTIONS_DEG),
    ...face("ds"),
    ...bores("nds", depths, FULL_DIRECTIONS_DEG),
    ...face("nds"),
    ...sweeps("nds", depths, EIGHTHS_DEG),
    ...QUARTERS_DEG.map((clockDeg): ReadingName => ({ kind: "width", clockDeg })),
  ];
}

/**
 * The routine plan: 14 readings that give the critical characteristics the most. Three diameters 60 degrees apart per
 * seat, at the deepest section (the bearing's inner edge, where a worn reamer cuts small first), give the sizes and, by
 * their second harmonic, the ovality; four angles of the NDS sweep at the shallowest and at the deepest section give
 * coaxiality and both tilts. Taper, faces and width are left to the full plan.
 */
export function routinePlan(drawing: ShellDrawing): ReadingName[] {
  const depths = [...drawing.fullPlanDepthsMm].sort((a, b) => a - b);
  const shallowest = depths.slice(0, 1);
  const deepest = depths.slice(-1);
  return [
    ...bores("ds", deepest, ROUTINE_DIRECTIONS_DEG),
    ...bores("nds", deepest, ROUTINE_DIRECTIONS_DEG),
    ...sweeps("nds", [...new Set([...shallowest, ...deepest])], QUARTERS_DEG),
  ];
}
