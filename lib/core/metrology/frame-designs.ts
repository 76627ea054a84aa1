import { CoreError } from "../errors";
import { type BoreDesign, type BoreReading, designBore } from "./bore-seat";
import { type FaceDesign, type FaceReading, designFace } from "./face-sweep";
import type { ReadingName, Seat } from "./reading-name";
import type { CharacteristicName, ShellDrawing } from "./shell-drawing";
import { type WidthDesign, type WidthReading, designWidth } from "./shell-width";
import { type SweepReading, type SweptSeatDesign, designSweptSeat } from "./swept-seat";

/** The readings of a plan, grouped by what they measure; null where the plan has none. */
export type FrameDesigns = {
  readonly bores: Readonly<Record<Seat, BoreDesign | null>>;
  /** NDS before DS where both seats are swept; the first gives offset and tilts. */
  readonly swept: readonly SweptSeatDesign[];
  readonly faces: Readonly<Record<Seat, FaceDesign | null>>;
  readonly width: WidthDesign | null;
};

/** Whether a plan can give a characteristic, and from which readings. */
export type Coverage = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  /** Places of the due readings. */
  readonly indices: readonly number[];
  /** Null where the plan can give it. */
  readonly reason: string | null;
};

const SEATS = ["ds", "nds"] as const;

function normalised(name: ReadingName): ReadingName {
  return name.kind === "bore" ? { ...name, directionDeg: ((name.directionDeg % 180) + 180) % 180 } : name;
}

function assertNames(names: readonly ReadingName[]): void {
  const seen = new Set<string>();
  names.forEach((name, index) => {
    for (const value of Object.values(name))
      if (typeof value === "number" && !(Number.isFinite(value) && value >= 0))
        throw new CoreError(
          "out-of-range",
          `compileMeasurement: names must have finite numbers from 0; got ${value} (at index ${index})`,
          { index },
        );
    const key = JSON.stringify(Object.entries(name).sort(([a], [b]) => (a < b ? -1 : 1)));
    if (seen.has(key))
      throw new CoreError("duplicate", `compileMeasurement: names must be distinct; got ${key} twice`, { index });
    seen.add(key);
  });
}

/**
 * Groups the readings of a plan and makes every design once.
 *
 * @param names - readings in the order in which values will come
 * @throws CoreError duplicate on a reading that is there twice; out-of-range on a negative or non-finite number in a name
 */
export function designFrame(names: readonly ReadingName[], drawing: ShellDrawing): FrameDesigns {
  const bores: Record<Seat, BoreReading[]> = { ds: [], nds: [] };
  const sweeps: Record<Seat, SweepReading[]> = { ds: [], nds: [] };
  const faces: Record<Seat, FaceReading[]> = { ds: [], nds: [] };
  const widths: WidthReading[] = [];
  const all = names.map(normalised);
  assertNames(all);
  all.forEach((name, index) => {
    if (name.kind === "bore") bores[name.seat].push({ index, ...name });
    else if (name.kind === "sweep") sweeps[name.seat].push({ index, ...name });
    else if (name.kind === "face") faces[name.seat].push({ index, ...name });
    else if (name.kind === "width") widths.push({ index, ...name });
  });
  return {
    bores: {
      ds: bores.ds.length > 0 ? designBore(bores.ds) : null,
      nds: bores.nds.length > 0 ? designBore(bores.nds) : null,
    },
    swept: (["nds", "ds"] as const)
      .filter((seat) => sweeps[seat].length > 0)
      .map((seat) => designSweptSeat(seat, sweeps[seat], drawing)),
    faces: {
      ds: faces.ds.length > 0 ? designFace("ds", faces.ds) : null,
      nds: faces.nds.length > 0 ? designFace("nds", faces.nds) : null,
    },
    width: widths.length > 0 ? designWidth(widths) : null,
  };
}

function boreCoverage(seat: Seat, bore: BoreDesign | null): Coverage[] {
  const indices = bore?.indices ?? [];
  const none = bore === null ? "the plan has no diameters of this seat" : null;
  const directions = Math.max(0, ...(bore?.sections ?? []).map((section) => section.indices.length));
  const depths = bore?.sections.length ?? 0;
  return [
    { name: "bore", seat, indices, reason: none },
    {
      name: "ovality",
      seat,
      indices,
      reason: none ?? (directions < 2 ? "ovality needs two directions in one section" : null),
    },
    { name: "taper", seat, indices, reason: none ?? (depths < 2 ? "taper needs sections at two depths" : null) },
  ];
}

function sweptCoverage(swept: readonly SweptSeatDesign[]): Coverage[] {
  const [primary] = swept;
  if (primary === undefined) {
    const reason = "the plan has no indicator sweep";
    return [
      { name: "coaxiality", seat: "nds", indices: [], reason },
      ...SEATS.map((seat): Coverage => ({ name: "tilt", seat, indices: [], reason })),
    ];
  }
  const refused = (design: SweptSeatDesign): string | null =>
    design.sections.find((section) => section.sweep === null)?.reason ?? null;
  const tiltReason =
    refused(primary) ??
    (primary.sections.length < 2 ? "one swept section gives the offset of the seat, not its tilt" : null);
  return [
    ...swept.map((design): Coverage => {
      return { name: "coaxiality", seat: design.swept, indices: design.indices, reason: refused(design) };
    }),
    ...SEATS.map((seat): Coverage => ({ name: "tilt", seat, indices: primary.indices, reason: tiltReason })),
  ];
}

/** Which characteristics the readings of a plan can give, in the order of a drawing's characteristics, DS first. */
export function coverageOf(designs: FrameDesigns): readonly Coverage[] {
  const bores = SEATS.flatMap((seat) => boreCoverage(seat, designs.bores[seat]));
  const pick = (name: CharacteristicName): Coverage[] => bores.filter((coverage) => coverage.name === name);
  return [
    ...pick("bore"),
    ...pick("ovality"),
    ...pick("taper"),
    ...sweptCoverage(designs.swept),
    ...SEATS.map((seat): Coverage => {
      const face = designs.faces[seat];
      const reason = face === null ? "the plan has no sweep of this face" : face.reason;
      return { name: "face run-out", seat, indices: face?.indices ?? [], reason };
    }),
    {
      name: "width",
      seat: null,
      indices: designs.width?.indices ?? [],
      reason: designs.width === null ? "the plan has no width" : null,
    },
  ];
}
