import { CoreError } from "../errors";
import { type BoreDesign, type BoreReading, designBore } from "./bore-seat";
import { type FaceDesign, type FaceReading, designFace } from "./face-sweep";
import type { ReadingName, Seat } from "./reading-name";
import { CHARACTERISTIC_NAMES, type CharacteristicName, type ShellDrawing } from "./shell-drawing";
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

type Found = Omit<Coverage, "name">;

/** What the diameters of each seat give, and why a seat's give it not; `short` says what one that is read lacks. */
function boreCoverage({ bores }: FrameDesigns, short: (bore: BoreDesign) => string | null): Found[] {
  return SEATS.map((seat) => {
    const bore = bores[seat];
    const reason = bore === null ? "the plan has no diameters of this seat" : short(bore);
    return { seat, indices: bore?.indices ?? [], reason };
  });
}

const NO_SWEEP = "the plan has no indicator sweep";

function refusalOf({ sections }: SweptSeatDesign): string | null {
  return sections.find(({ sweep }) => sweep === null)?.reason ?? null;
}

/** From which readings a plan gives each characteristic: one entry for each seat, DS first, or one of both seats. */
const COVERAGE: Readonly<Record<CharacteristicName, (designs: FrameDesigns) => readonly Found[]>> = {
  bore: (designs) => boreCoverage(designs, () => null),
  ovality: (designs) =>
    boreCoverage(designs, ({ sections }) =>
      Math.max(0, ...sections.map(({ indices }) => indices.length)) < 2
        ? "ovality needs two directions in one section"
        : null,
    ),
  taper: (designs) =>
    boreCoverage(designs, ({ sections }) => (sections.length < 2 ? "taper needs sections at two depths" : null)),
  coaxiality: ({ swept }) =>
    swept.length === 0
      ? [{ seat: "nds", indices: [], reason: NO_SWEEP }]
      : swept.map((design) => ({ seat: design.swept, indices: design.indices, reason: refusalOf(design) })),
  tilt({ swept: [primary] }) {
    if (primary === undefined) return SEATS.map((seat) => ({ seat, indices: [], reason: NO_SWEEP }));
    const isShort = primary.sections.length < 2;
    const reason =
      refusalOf(primary) ?? (isShort ? "one swept section gives the offset of the seat, not its tilt" : null);
    return SEATS.map((seat) => ({ seat, indices: primary.indices, reason }));
  },
  "face run-out": ({ faces }) =>
    SEATS.map((seat) => {
      const face = faces[seat];
      const reason = face === null ? "the plan has no sweep of this face" : face.reason;
      return { seat, indices: face?.indices ?? [], reason };
    }),
  width: ({ width }) => [
    { seat: null, indices: width?.indices ?? [], reason: width === null ? "the plan has no width" : null },
  ],
};

/** Which characteristics the readings of a plan can give, in the order of a drawing's characteristics, DS first. */
export function coverageOf(designs: FrameDesigns): readonly Coverage[] {
  return CHARACTERISTIC_NAMES.flatMap((name) => COVERAGE[name](designs).map((found) => ({ name, ...found })));
}
