import { alignToAxis } from "./coaxiality";
import type { Seat } from "./reading-name";
import type { Axis, SectionCentre } from "./seat-axis";
import type { ShellDrawing } from "./shell-drawing";
import { DEFAULT_CLOSING_LIMIT_UM, type SweepDesign, type SweepFit, designSweep, fitSweep } from "./sweep-harmonics";

export type SweepReading = { readonly index: number; readonly depthMm: number; readonly angleDeg: number };

export type SweptSectionDesign = {
  readonly depthMm: number;
  readonly xMm: number;
  readonly indices: readonly number[];
  readonly anglesDeg: readonly number[];
  /** Null where the plan's angles cannot give an offset, with the reason beside it. */
  readonly sweep: SweepDesign | null;
  readonly reason: string | null;
};

/** The sweep of one seat about the other seat's axis. */
export type SweptSeatDesign = {
  readonly swept: Seat;
  readonly sections: readonly SweptSectionDesign[];
  readonly indices: readonly number[];
  /** Sections of the datum seat, on the axis of rotation. */
  readonly datum: readonly SectionCentre[];
};

export type SweptSection = {
  readonly depthMm: number;
  readonly xMm: number;
  readonly fit: SweepFit | null;
  readonly reason: string | null;
};

/** How the swept seat lies to the datum seat. Lengths µm, tilts arc minutes, null with the reason beside them. */
export type SweptSeatMeasurement = {
  readonly swept: Seat;
  readonly sections: readonly SweptSection[];
  readonly zoneUm: number | null;
  /** Depth of the section that decides the zone, and the clock position of its centre. */
  readonly worst: { readonly depthMm: number; readonly positionDeg: number } | null;
  readonly offset12Um: number | null;
  readonly offset3Um: number | null;
  readonly commonZoneUm: number | null;
  readonly tiltDsArcmin: number | null;
  readonly tiltNdsArcmin: number | null;
  readonly angleBetweenSeatsArcmin: number | null;
  /** Slope of the swept seat's axis against the datum axis, µm per mm towards NDS: towards 12 and towards 3 o'clock. */
  readonly slope12: number | null;
  readonly slope3: number | null;
  readonly reason: string | null;
};

/** The axis of rotation is the x axis. */
const X_AXIS: Axis = { point: { xMm: 0, yMm: 0, zMm: 0 }, direction: [1, 0, 0] };

/** Distance of a section from the DS face, mm: NDS depths count from the other end of the shell. */
function sectionX(seat: Seat, depthMm: number, drawing: ShellDrawing): number {
  return seat === "ds" ? depthMm : drawing.widthMm - depthMm;
}

function designSection(seat: Seat, readings: readonly SweepReading[], drawing: ShellDrawing): SweptSectionDesign {
  const depthMm = readings[0]!.depthMm;
  const anglesDeg = readings.map((r) => r.angleDeg);
  const sweep = designSweep(anglesDeg);
  return {
    depthMm,
    xMm: sectionX(seat, depthMm, drawing),
    indices: readings.map((r) => r.index),
    anglesDeg,
    sweep: sweep.ok ? sweep.value : null,
    reason: sweep.ok ? null : sweep.reason,
  };
}

/**
 * Groups the due sweep readings of one seat by section. The mid-point of the datum seat lies in the middle of the
 * drawing's full-plan sections, where the seat carries its axis.
 */
export function designSweptSeat(
  swept: Seat,
  readings: readonly SweepReading[],
  drawing: ShellDrawing,
): SweptSeatDesign {
  const depths = [...new Set(readings.map((r) => r.depthMm))].sort((a, b) => a - b);
  const datumSeat = swept === "nds" ? "ds" : "nds";
  return {
    swept,
    sections: depths.map((depth) =>
      designSection(
        swept,
        readings.filter((r) => r.depthMm === depth),
        drawing,
      ),
    ),
    indices: readings.map((r) => r.index),
    datum: drawing.fullPlanDepthsMm.map((depth) => ({ xMm: sectionX(datumSeat, depth, drawing), yMm: 0, zMm: 0 })),
  };
}

function fitSection(
  section: SweptSectionDesign,
  values: readonly (number | null)[],
  closingLimitUm: number,
): SweptSection {
  const { depthMm, xMm } = section;
  const places = section.indices.map((_, place) => place).filter((place) => values[section.indices[place]!] !== null);
  let sweep = section.sweep;
  let reason = section.reason;
  if (places.length < section.indices.length) {
    const design = designSweep(places.map((place) => section.anglesDeg[place]!));
    sweep = design.ok ? design.value : null;
    reason = design.ok ? null : design.reason;
  }
  if (sweep === null) return { depthMm, xMm, fit: null, reason };
  const readings = new Float64Array(places.length);
  for (let i = 0; i < places.length; i += 1) readings[i] = values[section.indices[places[i]!]!]!;
  return { depthMm, xMm, fit: fitSweep(sweep, readings, closingLimitUm), reason: null };
}

/** How section centres of the swept seat lie to the datum: zone diameter µm, tilts arc minutes. */
export type SweptAlignment = {
  readonly zoneUm: number;
  readonly tiltDsArcmin: number | null;
  readonly tiltNdsArcmin: number | null;
};

/**
 * Coaxiality and tilts from section centres about the axis of rotation.
 *
 * @param centres - SectionCentre[n], mm, n >= 1
 */
export function alignSweptCentres(
  { swept, datum }: Pick<SweptSeatDesign, "swept" | "datum">,
  centres: readonly SectionCentre[],
): SweptAlignment {
  const { zoneToDatumMm, tiltMeasuredArcmin, tiltDatumArcmin } = alignToAxis(datum, X_AXIS, centres);
  return {
    zoneUm: zoneToDatumMm * 1000,
    tiltDsArcmin: swept === "ds" ? tiltMeasuredArcmin : tiltDatumArcmin,
    tiltNdsArcmin: swept === "ds" ? tiltDatumArcmin : tiltMeasuredArcmin,
  };
}

const ONE_SECTION = "not estimable: one swept section gives the offset, not the tilt";

/**
 * Coaxiality, offset and tilts from the indicator sweep of one seat about the other seat's axis.
 *
 * @param design - from designSweptSeat
 * @param values - readings of the inspection, µm, null where there is none
 * @param closingLimitUm - largest closing error that is accepted
 * @returns the sections with their fits, and how the seats lie to each other; null with a reason where readings lack
 */
export function measureSweptSeat(
  design: SweptSeatDesign,
  values: readonly (number | null)[],
  closingLimitUm = DEFAULT_CLOSING_LIMIT_UM,
): SweptSeatMeasurement {
  const sections = design.sections.map((section) => fitSection(section, values, closingLimitUm));
  const fitted = sections.filter((section) => section.fit !== null);
  if (fitted.length === 0)
    return {
      swept: design.swept,
      sections,
      zoneUm: null,
      worst: null,
      offset12Um: null,
      offset3Um: null,
      commonZoneUm: null,
      tiltDsArcmin: null,
      tiltNdsArcmin: null,
      angleBetweenSeatsArcmin: null,
      slope12: null,
      slope3: null,
      reason: `not estimable: ${sections[0]?.reason ?? "no sweep"}`,
    };
  const centres = fitted.map(({ xMm, fit }) => ({
    xMm,
    yMm: fit!.towards12Um / 1000,
    zMm: fit!.towards3Um / 1000,
  }));
  const alignment = alignToAxis(design.datum, X_AXIS, centres);
  const worst = fitted[alignment.worstSection]!;
  const sweptTilt = alignment.tiltMeasuredArcmin;
  const datumTilt = alignment.tiltDatumArcmin;
  return {
    swept: design.swept,
    sections,
    zoneUm: alignment.zoneToDatumMm * 1000,
    worst: { depthMm: worst.depthMm, positionDeg: worst.fit!.offsetPositionDeg },
    offset12Um: alignment.offsetYMm * 1000,
    offset3Um: alignment.offsetZMm * 1000,
    commonZoneUm: alignment.zoneToCommonAxisMm * 1000,
    tiltDsArcmin: design.swept === "ds" ? sweptTilt : datumTilt,
    tiltNdsArcmin: design.swept === "ds" ? datumTilt : sweptTilt,
    angleBetweenSeatsArcmin: alignment.angleBetweenSeatsArcmin,
    slope12: alignment.slopeY === null ? null : alignment.slopeY * 1000,
    slope3: alignment.slopeZ === null ? null : alignment.slopeZ * 1000,
    reason: sweptTilt === null ? ONE_SECTION : null,
  };
}
