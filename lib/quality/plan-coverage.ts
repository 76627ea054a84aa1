import { formatReadingName, type ReadingName, type Seat } from "../core/metrology/reading-name";

/** Readings of one section, one face or the width: places on a circle. */
type Circle = {
  readonly label: string;
  /** What one place is called, and how many places there are. */
  readonly word: "direction" | "angle" | "position";
  /** Degrees after which places repeat: a diameter reads two opposite places. */
  readonly periodDeg: 180 | 360;
  readonly places: Set<number>;
  /** The first angle is read again at the end. */
  closes: boolean;
};

const SIDE = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

function circleOf(name: ReadingName): Omit<Circle, "places" | "closes"> | null {
  switch (name.kind) {
    case "bore":
      return { label: `${SIDE[name.seat]} bore at ${name.depthMm} mm`, word: "direction", periodDeg: 180 };
    case "sweep":
      return { label: `${SIDE[name.seat]} sweep at ${name.depthMm} mm`, word: "angle", periodDeg: 360 };
    case "face":
      return { label: `${SIDE[name.seat]} face`, word: "angle", periodDeg: 360 };
    case "width":
      return { label: "width", word: "position", periodDeg: 360 };
    default:
      return null;
  }
}

function placeOf(name: ReadingName): number {
  if (name.kind === "bore") return name.directionDeg;
  if (name.kind === "width") return name.clockDeg;
  return name.kind === "sweep" || name.kind === "face" ? name.angleDeg : 0;
}

/** Circles by label, and the names of what has no place: plugs and bars. */
function group(names: readonly ReadingName[]): { circles: Map<string, Circle>; felt: Set<string> } {
  const circles = new Map<string, Circle>();
  const felt = new Set<string>();
  for (const name of names) {
    const known = circleOf(name);
    if (known === null) {
      felt.add(formatReadingName(name));
      continue;
    }
    const circle = circles.get(known.label) ?? { ...known, places: new Set<number>(), closes: false };
    circles.set(known.label, circle);
    const place = placeOf(name);
    if (place === 360) circle.closes = true;
    else circle.places.add(((place % circle.periodDeg) + circle.periodDeg) % circle.periodDeg);
  }
  return { circles, felt };
}

/** Largest angle between neighbouring places, degrees. */
function largestGap({ places, periodDeg }: Circle): number {
  const sorted = [...places].sort((a, b) => a - b);
  const [first] = sorted;
  if (first === undefined) return Infinity;
  return sorted.reduce((largest, place, at) => Math.max(largest, (sorted[at + 1] ?? first + periodDeg) - place), 0);
}

/** Angles of a plan are whole degrees or halves; sums of them are exact, thirds of a circle need not be. */
const GAP_TOLERANCE_DEG = 1e-6;

function lacking(asked: Circle, measured: Circle | undefined): string | null {
  const { label, word } = asked;
  if (measured === undefined || measured.places.size === 0) return `no ${label}`;
  if (measured.places.size < asked.places.size)
    return `${measured.places.size} of ${asked.places.size} ${word}s of the ${label}`;
  if (largestGap(measured) > largestGap(asked) + GAP_TOLERANCE_DEG)
    return `${word}s of the ${label} that lie closer together`;
  return asked.closes && !measured.closes ? `the closing reading of the ${label}` : null;
}

/**
 * What some readings lack against those that a plan asks for. Readings are at least as much where each section (by its depth),
 * face and width that is asked for was measured in at least as many distinct directions or angles, spread at least as evenly
 * (no larger gap between neighbours), with the closing reading where one is asked for, and each plug and bar was tried. More
 * sections, and other directions that lie closer, are at least as much, too.
 *
 * @param measured - readings that were taken
 * @param asked - readings that the plan asks for
 * @returns what is lacking, in words, in the plan's order; [] where nothing is
 */
export function lackingReadings(measured: readonly ReadingName[], asked: readonly ReadingName[]): string[] {
  const have = group(measured);
  const want = group(asked);
  const circles = [...want.circles].flatMap(([key, circle]) => lacking(circle, have.circles.get(key)) ?? []);
  return [...circles, ...[...want.felt].filter((name) => !have.felt.has(name)).map((name) => `no trial of ${name}`)];
}
