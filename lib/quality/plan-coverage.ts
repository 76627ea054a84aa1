import { formatReadingName, type ReadingName, type Seat } from "../core/metrology/reading-name";

/** Where readings lie on a circle: a section of a bore or sweep by its depth, a face, or the width. */
export type ReadCircle =
  | { readonly kind: "bore" | "sweep"; readonly seat: Seat; readonly depthMm: number }
  | { readonly kind: "face"; readonly seat: Seat }
  | { readonly kind: "width" };

/** What some readings lack of one circle, or a plug or bar that nobody tried. */
export type LackingReadings =
  | { readonly code: "no-circle" | "farther-apart" | "not-closed"; readonly of: ReadCircle }
  | { readonly code: "fewer-places"; readonly of: ReadCircle; readonly measured: number; readonly asked: number }
  | { readonly code: "no-trial"; readonly label: string };

/** Readings of one section, one face or the width. */
type Circle = {
  readonly of: ReadCircle;
  /** Degrees after which places repeat: a diameter reads two opposite places. */
  readonly periodDeg: 180 | 360;
  readonly places: Set<number>;
  /** The first angle is read again at the end. */
  closes: boolean;
};

function circleOf(name: ReadingName): Pick<Circle, "of" | "periodDeg"> | null {
  switch (name.kind) {
    case "bore":
      return { of: { kind: "bore", seat: name.seat, depthMm: name.depthMm }, periodDeg: 180 };
    case "sweep":
      return { of: { kind: "sweep", seat: name.seat, depthMm: name.depthMm }, periodDeg: 360 };
    case "face":
      return { of: { kind: "face", seat: name.seat }, periodDeg: 360 };
    case "width":
      return { of: { kind: "width" }, periodDeg: 360 };
    default:
      return null;
  }
}

const keyOf = (of: ReadCircle): string => Object.values(of).join(".");

function placeOf(name: ReadingName): number {
  if (name.kind === "bore") return name.directionDeg;
  if (name.kind === "width") return name.clockDeg;
  return name.kind === "sweep" || name.kind === "face" ? name.angleDeg : 0;
}

/** Circles by what they are, and the names of what has no place: plugs and bars. */
function group(names: readonly ReadingName[]): { circles: Map<string, Circle>; felt: Set<string> } {
  const circles = new Map<string, Circle>();
  const felt = new Set<string>();
  for (const name of names) {
    const known = circleOf(name);
    if (known === null) {
      felt.add(formatReadingName(name));
      continue;
    }
    const key = keyOf(known.of);
    const circle = circles.get(key) ?? { ...known, places: new Set<number>(), closes: false };
    circles.set(key, circle);
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

function lacking(asked: Circle, measured: Circle | undefined): LackingReadings | null {
  const { of } = asked;
  if (measured === undefined || measured.places.size === 0) return { code: "no-circle", of };
  if (measured.places.size < asked.places.size)
    return { code: "fewer-places", of, measured: measured.places.size, asked: asked.places.size };
  if (largestGap(measured) > largestGap(asked) + GAP_TOLERANCE_DEG) return { code: "farther-apart", of };
  return asked.closes && !measured.closes ? { code: "not-closed", of } : null;
}

/**
 * What some readings lack against those that a plan asks for. Readings are at least as much where each section (by its depth),
 * face and width that is asked for was measured in at least as many distinct directions or angles, spread at least as evenly
 * (no larger gap between neighbours), with the closing reading where one is asked for, and each plug and bar was tried. More
 * sections, and other directions that lie closer, are at least as much, too.
 *
 * @param measured - readings that were taken
 * @param asked - readings that the plan asks for
 * @returns what is lacking, in the plan's order; [] where nothing is
 */
export function lackingReadings(measured: readonly ReadingName[], asked: readonly ReadingName[]): LackingReadings[] {
  const have = group(measured);
  const want = group(asked);
  const circles = [...want.circles].flatMap(([key, circle]) => lacking(circle, have.circles.get(key)) ?? []);
  const untried = [...want.felt].filter((label) => !have.felt.has(label));
  return [...circles, ...untried.map((label): LackingReadings => ({ code: "no-trial", label }))];
}
