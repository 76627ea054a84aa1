import { CoreError } from "../errors";
import {
  type Axis,
  type SectionCentre,
  angleBetweenAxesRad,
  axisThrough,
  distanceFromAxis,
  midPoint,
  seatAxis,
} from "./seat-axis";

const ARCMIN_PER_RAD = (180 * 60) / Math.PI;

/** How two seats lie to each other. Lengths mm, angles arc minutes. */
export type SeatAlignment = {
  /** Zone diameter of the measured seat's sections about the datum seat's axis. */
  readonly zoneToDatumMm: number;
  /** Place of the section that decides. */
  readonly worstSection: number;
  /** Mid-point of the measured seat from the datum axis, at its own x: towards 12 and towards 3 o'clock. */
  readonly offsetYMm: number;
  readonly offsetZMm: number;
  /** Zone diameter of all sections of both seats about the common axis: shown, never judged. */
  readonly zoneToCommonAxisMm: number;
  /** Tilts of each seat to the line through both mid-points; null where the measured seat has one section. */
  readonly tiltDatumArcmin: number | null;
  readonly tiltMeasuredArcmin: number | null;
  readonly angleBetweenSeatsArcmin: number | null;
  /** Slope dy/dx and dz/dx of the measured seat's axis against the datum axis; null with one section. */
  readonly slopeY: number | null;
  readonly slopeZ: number | null;
};

function furthest(axis: Axis, sections: readonly SectionCentre[]): { distance: number; place: number } {
  let distance = -1;
  let place = 0;
  for (let i = 0; i < sections.length; i += 1) {
    const d = distanceFromAxis(axis, sections[i]!);
    if (d > distance) {
      distance = d;
      place = i;
    }
  }
  return { distance, place };
}

/**
 * Coaxiality of one seat to the other as datum, and tilt of each seat to the common axis.
 * Zone = 2 x the largest distance of the measured section centres from the datum axis. Common axis = line through the
 * mid-points of both seats, each the mean of its measured section centres.
 *
 * @param datum - section centres of the datum seat, mm, n >= 2 at different x
 * @param measured - section centres of the other seat, mm, n >= 1
 * @returns zones mm, tilts arc minutes (null with one measured section: an offset, no direction)
 * @throws CoreError too-few-values without a measured section; degenerate where the datum has no direction or both seats
 *   lie at one x
 * Accuracy: the printed digits of tests/reference/geometry.json (four-sections); 1e-9 mm on synthetic seats.
 * Source: ISO 1101 (coaxiality zone), from memory; tilt to the line of the bearing centres is ours.
 */
export function alignSeats(datum: readonly SectionCentre[], measured: readonly SectionCentre[]): SeatAlignment {
  if (measured.length === 0) throw new CoreError("too-few-values", "alignSeats: measured must have a section");
  const datumAxis = seatAxis(datum);
  if (!datumAxis.ok) throw new CoreError("degenerate", `alignSeats: datum must have a direction; ${datumAxis.reason}`);
  return alignToAxis(datum, datumAxis.value, measured);
}

/** The same with the datum's axis known, as in a sweep about it. */
export function alignToAxis(
  datum: readonly SectionCentre[],
  datumAxis: Axis,
  measured: readonly SectionCentre[],
): SeatAlignment {
  const measuredMid = midPoint(measured);
  const datumMid = midPoint(datum);
  if (measuredMid.xMm === datumMid.xMm)
    throw new CoreError("degenerate", "alignSeats: the seats must lie at different x", { xMm: datumMid.xMm });
  const common = axisThrough(datumMid, measuredMid);
  const measuredAxis = seatAxis(measured);
  const toDatum = furthest(datumAxis, measured);
  const [ux, uy, uz] = datumAxis.direction;
  const along = measuredMid.xMm - datumAxis.point.xMm;
  return {
    zoneToDatumMm: 2 * toDatum.distance,
    worstSection: toDatum.place,
    offsetYMm: measuredMid.yMm - datumAxis.point.yMm - (along * uy) / ux,
    offsetZMm: measuredMid.zMm - datumAxis.point.zMm - (along * uz) / ux,
    zoneToCommonAxisMm: 2 * Math.max(furthest(common, datum).distance, furthest(common, measured).distance),
    tiltDatumArcmin: measuredAxis.ok ? angleBetweenAxesRad(datumAxis, common) * ARCMIN_PER_RAD : null,
    tiltMeasuredArcmin: measuredAxis.ok ? angleBetweenAxesRad(measuredAxis.value, common) * ARCMIN_PER_RAD : null,
    angleBetweenSeatsArcmin: measuredAxis.ok
      ? angleBetweenAxesRad(measuredAxis.value, datumAxis) * ARCMIN_PER_RAD
      : null,
    slopeY: measuredAxis.ok ? measuredAxis.value.direction[1] / measuredAxis.value.direction[0] - uy / ux : null,
    slopeZ: measuredAxis.ok ? measuredAxis.value.direction[2] / measuredAxis.value.direction[0] - uz / ux : null,
  };
}
