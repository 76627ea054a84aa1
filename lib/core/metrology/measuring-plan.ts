import { USUAL_PLUG_FEEL } from "./plug-evidence";
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
 * The routine plan: the critical characteristics and nothing else, with no larger U than they need. Three diameters 60 degrees
 * apart at both depths of each seat give the sizes, the oval between the directions by their second harmonic, and the taper; the
 * NDS sweep has the eight angles of the full plan, since four would take three lobes for an offset and would not see a slip. Two
 * full-plan sections give 28 readings. Faces and width are left to the full plan.
 */
export function routinePlan(drawing: ShellDrawing): ReadingName[] {
  const depths = [...drawing.fullPlanDepthsMm].sort((a, b) => a - b);
  const outermost = [...new Set([...depths.slice(0, 1), ...depths.slice(-1)])];
  return [
    ...bores("ds", outermost, ROUTINE_DIRECTIONS_DEG),
    ...bores("nds", outermost, ROUTINE_DIRECTIONS_DEG),
    ...sweeps("nds", outermost, EIGHTHS_DEG),
  ];
}

/** How far beside what U and feel leave open a plug is chosen, µm. */
const PLUG_MARGIN_UM = 1;

/**
 * A plan of plugs and bars alone, the cheapest way to begin: four trials a seat and two bars, for gauges that a builder can
 * order by these sizes. A plug over the lower limit that has to enter, by hand pressure at least, and a rod under the upper limit
 * that must not pass across, in any direction, prove a size; one plug and one rod beyond the limits prove that it is none. The
 * close bar that turns freely proves alignment, the usual one that does not pass proves that it is out.
 *
 * @returns names by the drawing's limits to 1 µm; none of a limit that the drawing does not give
 * Source: the idea of full-form GO and two-point NO-GO gauges (ISO 1938-1, from memory); sizes from U and feel, a choice
 */
export function plugsAndBarPlan(drawing: ShellDrawing): ReadingName[] {
  const { plugUncertaintyUm, handTightUm } = USUAL_PLUG_FEEL;
  const { lower = null, upper = null } = drawing.characteristics.find(({ name }) => name === "bore") ?? {};
  const besides = plugUncertaintyUm + PLUG_MARGIN_UM;
  const atUm = (limitMm: number, byUm: number): number => Math.round(limitMm * 1000 + byUm) / 1000;
  const along = lower === null ? [] : [atUm(lower, -besides), atUm(lower, besides + handTightUm)];
  const across = upper === null ? [] : [atUm(upper, -besides), atUm(upper, besides + handTightUm)];
  const plugs = (["ds", "nds"] as const).flatMap((seat): ReadingName[] => [
    ...along.map((sizeMm): ReadingName => ({ kind: "plug", seat, sizeMm })),
    ...across.map((sizeMm): ReadingName => ({ kind: "plug", seat, sizeMm, across: true })),
  ]);
  return [...plugs, { kind: "bar", set: "A" }, { kind: "bar", set: "B" }];
}
