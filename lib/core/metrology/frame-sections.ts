import type { BoreSection } from "./bore-seat";
import type { FrameMeasurement } from "./measure-frame";
import type { PlanePoint } from "./plane-point";
import type { Seat } from "./reading-name";
import { seatAxis } from "./seat-axis";
import type { HarmonicSection, RadiusHarmonic } from "./seat-section";
import type { ShellDrawing } from "./shell-drawing";
import type { SweptSeatMeasurement, SweptSection } from "./swept-seat";

const ON_AXIS: PlanePoint = { y: 0, z: 0 };

/** Centre of the swept seat at a depth: as swept there, else on the line through its swept sections. */
function sweptCentre(swept: SweptSeatMeasurement, xMm: number, at: SweptSection | undefined): PlanePoint | null {
  if (at?.fit) return { y: at.fit.towards12Um / 1000, z: at.fit.towards3Um / 1000 };
  const centres = swept.sections.flatMap(({ xMm: x, fit }) =>
    fit === null ? [] : [{ xMm: x, yMm: fit.towards12Um / 1000, zMm: fit.towards3Um / 1000 }],
  );
  if (centres.length === 0) return null;
  const axis = seatAxis(centres);
  if (!axis.ok) return null;
  const [ux, uy, uz] = axis.value.direction;
  const along = (xMm - axis.value.point.xMm) / ux;
  return { y: axis.value.point.yMm + along * uy, z: axis.value.point.zMm + along * uz };
}

/** Lobes of a section: the oval from the diameters where they give it, everything else from the sweep. */
function lobes(bore: BoreSection | undefined, at: SweptSection | undefined): RadiusHarmonic[] {
  const second = bore?.secondHarmonic ?? null;
  const fromBore: RadiusHarmonic[] =
    second === null ? [] : [{ order: 2, amplitudeMm: second.amplitudeUm / 1000, phaseDeg: second.positionDeg }];
  const fromSweep = (at?.fit?.lobes ?? []).filter(({ order }) => order > (second === null ? 1 : 2));
  return [
    ...fromBore,
    ...fromSweep.map(({ order, amplitude, positionDeg }) => ({
      order,
      amplitudeMm: amplitude / 1000,
      phaseDeg: positionDeg,
    })),
  ];
}

function seatSections(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  swept: SweptSeatMeasurement | undefined,
): HarmonicSection[] {
  const bore = measurement.bores[seat];
  if (bore === null) return [];
  const isSwept = swept?.swept === seat;
  const sweptDepths = isSwept ? swept.sections.filter(({ fit }) => fit !== null).map(({ depthMm }) => depthMm) : [];
  const depths = [...new Set([...bore.sections.map(({ depthMm }) => depthMm), ...sweptDepths])].sort((a, b) => a - b);
  return depths.map((depthMm): HarmonicSection => {
    const own = bore.sections.find((section) => section.depthMm === depthMm);
    const at = isSwept ? swept.sections.find((section) => section.depthMm === depthMm) : undefined;
    const xMm = seat === "ds" ? depthMm : drawing.widthMm - depthMm;
    const onDatum = swept === undefined ? null : ON_AXIS;
    return {
      shape: "harmonic",
      seat,
      depthMm,
      xMm,
      centre: isSwept ? sweptCentre(swept, xMm, at) : onDatum,
      radiusMm: (own?.meanMm ?? bore.meanMm) / 2,
      harmonics: lobes(own, at),
    };
  });
}

/**
 * The sections of both seats in one system of coordinates, for functional size, gauge bar and salvage: radius and oval from
 * the two-point sizes, centre and all further lobes that its angles see from the sweep about the other seat's axis, which is the
 * x axis.
 *
 * @param measurement - from measureFrame
 * @returns sections of DS, then NDS, shallowest first; none of a seat without diameters; centre null where no sweep placed
 *   the seat. A swept section without diameters takes the seat's mean size.
 */
export function frameSections(drawing: ShellDrawing, measurement: FrameMeasurement): HarmonicSection[] {
  const [swept] = measurement.swept;
  return (["ds", "nds"] as const).flatMap((seat) => seatSections(drawing, measurement, seat, swept));
}
