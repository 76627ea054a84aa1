import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import type { PlanePoint } from "@/lib/core/metrology/plane-point";
import { type ReferenceCircles, referenceCircles } from "@/lib/core/metrology/reference-circles";
import { exhaustiveCircles } from "@/tests/helpers/exhaustive-circles";

type Random = ReturnType<typeof createSeededGenerator>;

const ring = (n: number, radiusAt: (phi: number) => number, phiAt = (i: number) => (2 * Math.PI * i) / n) =>
  Array.from({ length: n }, (_, i): PlanePoint => {
    const phi = phiAt(i);
    const radius = radiusAt(phi);
    return { y: 0.3 + radius * Math.cos(phi), z: -0.2 + radius * Math.sin(phi) };
  });

const PAIRS = "pairs closer than rounding";

/** Sections of every kind that a gauge, a file or a caller can send. */
const KINDS: Record<string, (n: number, random: Random) => PlanePoint[]> = {
  "round, micrometres of noise": (n, random) => ring(n, () => 20.5 + 0.003 * random.normal()),
  "round, read to whole micrometres": (n, random) => ring(n, () => 20.5 + Math.round(3 * random.normal()) / 1000),
  "of three lobes": (n, random) => ring(n, (phi) => 20.5 + 0.02 * Math.cos(3 * phi) + 1e-6 * random.normal()),
  "rough all around": (n, random) => ring(n, () => 20 * (0.7 + 0.3 * random.uniform())),
  "of directions by chance": (n, random) =>
    ring(
      n,
      () => 20 + random.normal(),
      () => 2 * Math.PI * random.uniform(),
    ),
  "spread over a square": (n, random) =>
    Array.from({ length: n }, () => ({ y: 30 * random.uniform(), z: 30 * random.uniform() })),
  "an arc": (n, random) =>
    ring(
      n,
      () => 20.5 + 0.003 * random.normal(),
      (i) => (1.8 * i) / n,
    ),
  "nearly a line": (n, random) =>
    Array.from({ length: n }, (_, i) => ({ y: i + 0.3 * random.uniform(), z: 0.1 * random.normal() })),
  "on one circle to rounding": (n) => ring(n, () => 20.5),
  "on one circle to 1e-10": (n, random) => ring(n, () => 20.5 * (1 + 3e-11 * random.normal())),
  "on two circles": (n, random) => ring(n, () => (random.uniform() < 0.5 ? 20.5 : 20.501)),
  [PAIRS]: (n, random) => {
    const half = ring(Math.ceil(n / 2), () => 20.5 + 0.003 * random.normal());
    return [...half, ...half.map(({ y, z }) => ({ y: y + 3e-13, z }))].slice(0, n);
  },
  "a grid": (n) => Array.from({ length: n }, (_, i) => ({ y: i % 4, z: Math.floor(i / 4) })),
};

const extent = (points: readonly PlanePoint[], { y, z }: PlanePoint): [number, number] => {
  const distances = points.map((one) => Math.hypot(one.y - y, one.z - z));
  return [Math.min(...distances), Math.max(...distances)];
};

/** Largest difference of the sizes, as a part of the size of the section: centres may be others where several are as good. */
function difference(
  points: readonly PlanePoint[],
  ours: ReferenceCircles,
  theirs: ReferenceCircles,
  kind: string,
): number {
  expect(ours.minimumZone.ok).toBe(theirs.minimumZone.ok);
  expect(ours.maximumInscribed.ok).toBe(theirs.maximumInscribed.ok);
  const errors = [ours.minimumCircumscribed.radius - theirs.minimumCircumscribed.radius];
  errors.push(extent(points, ours.minimumCircumscribed.centre)[1] - ours.minimumCircumscribed.radius);
  if (ours.maximumInscribed.ok && theirs.maximumInscribed.ok) {
    errors.push(ours.maximumInscribed.value.radius - theirs.maximumInscribed.value.radius);
    errors.push(extent(points, ours.maximumInscribed.value.centre)[0] - ours.maximumInscribed.value.radius);
  }
  if (ours.minimumZone.ok && theirs.minimumZone.ok) {
    const more = ours.minimumZone.value.zone - theirs.minimumZone.value.zone;
    // The edges of a pair are rounding, and trying them all misses some zones: ours may be smaller, held by its centre below.
    errors.push(kind === PAIRS ? Math.max(0, more) : more);
    // Circles of far centres lose their digits with the distance.
    if (ours.minimumZone.value.outerRadius < 1e3) {
      const [inner, outer] = extent(points, ours.minimumZone.value.centre);
      errors.push(outer - inner - ours.minimumZone.value.zone);
    }
  }
  return Math.max(...errors.map(Math.abs));
}

const RUNS = 20;

describe("the search for the reference circles, against trying every vertex and crossing", () => {
  it.each(Object.keys(KINDS))(
    "finds the same sizes to 1e-9 mm: %s",
    (kind) => {
      const random = createSeededGenerator(11);
      let worst = 0;
      for (let run = 0; run < RUNS; run++) {
        const n = run % 10 === 0 ? 120 : 5 + Math.floor(40 * random.uniform() ** 2);
        const points = KINDS[kind]!(n, random);
        worst = Math.max(worst, difference(points, referenceCircles(points), exhaustiveCircles(points), kind));
        expect(worst, `${kind}, run ${run}`).toBeLessThan(1e-9);
      }
    },
    60_000,
  );
});
