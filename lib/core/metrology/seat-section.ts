import { CoreError } from "../errors";
import type { PlanePoint } from "./plane-point";
import type { Seat } from "./reading-name";
import { toSectionPoints } from "./section-points";

type SectionPlace = {
  readonly seat: Seat;
  /** Depth from the seat's own face, mm. */
  readonly depthMm: number;
  /** Place along the shell axis, mm, growing from the drive side to the non-drive side. */
  readonly xMm: number;
};

/** One lobe pattern of a section's radius: amplitude * cos(order * (phi - phase)). */
export type RadiusHarmonic = { readonly order: number; readonly amplitudeMm: number; readonly phaseDeg: number };

/** A section known by its mean radius and harmonics of the radius (none: round); the centre is null where nothing placed it. */
export type HarmonicSection = SectionPlace & {
  readonly shape: "harmonic";
  readonly centre: PlanePoint | null;
  readonly radiusMm: number;
  readonly harmonics: readonly RadiusHarmonic[];
};

/** A section known by points in one system of coordinates for the whole shell, mm. */
export type PointSection = SectionPlace & { readonly shape: "points"; readonly points: readonly PlanePoint[] };

export type SeatSection = HarmonicSection | PointSection;

/**
 * Checks the sections of a pair of seats.
 *
 * @throws CoreError too-few-values where a seat has no section; not-finite; out-of-range; duplicate where two sections are at
 * one place; those of the points
 */
export function assertSeatSections(sections: readonly SeatSection[], caller: string): void {
  for (const seat of ["ds", "nds"] as const)
    if (!sections.some((section) => section.seat === seat))
      throw new CoreError(
        "too-few-values",
        `${caller}: sections must have at least one of each seat; got none of ${seat}`,
        {
          seat,
        },
      );
  const places = new Set<number>();
  sections.forEach((section, index) => {
    if (!Number.isFinite(section.xMm) || !Number.isFinite(section.depthMm))
      throw new CoreError(
        "not-finite",
        `${caller}: sections must have a finite place; got x ${section.xMm} (at index ${index})`,
      );
    if (places.has(section.xMm))
      throw new CoreError("duplicate", `${caller}: sections must be at different places; got x ${section.xMm} twice`, {
        index,
      });
    places.add(section.xMm);
    if (section.shape === "points") toSectionPoints(section.points, caller);
    else assertHarmonicSection(section, caller, index);
  });
}

function assertHarmonicSection(section: HarmonicSection, caller: string, index: number): void {
  const { centre, radiusMm, harmonics } = section;
  const numbers = [radiusMm, centre?.y ?? 0, centre?.z ?? 0, ...harmonics.flatMap((h) => [h.amplitudeMm, h.phaseDeg])];
  if (!numbers.every(Number.isFinite))
    throw new CoreError("not-finite", `${caller}: sections must be finite (at index ${index})`, { index });
  if (!(radiusMm > 0))
    throw new CoreError("out-of-range", `${caller}: radiusMm must be > 0; got ${radiusMm} (at index ${index})`, {
      index,
    });
  const order = harmonics.find((h) => !Number.isInteger(h.order) || h.order < 2);
  if (order !== undefined)
    throw new CoreError(
      "out-of-range",
      `${caller}: harmonics must be of order 2 or more; got ${order.order} (at index ${index})`,
      {
        index,
      },
    );
}
