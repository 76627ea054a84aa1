import { CoreError } from "../errors";

/** What must be heeded where a salvage is proposed; the screens have a text for each. */
export type SalvageCaution =
  /** Screening estimate: the bearing, cup and frame makers' limits decide. */
  | "makers-limits-decide"
  /** Reaming and facing: carbon dust and chips need gloves, eye protection, ventilation, extraction. */
  | "dust-and-chips"
  /** Compounds and solvents need the usual protection and their maker's data sheet. */
  | "compound-data-sheet"
  /** The seat is never knurled, punched or shimmed. */
  | "never-knurl-punch-shim";

/** One way to save a shell: possible or not, with the number that decides and its margin; or why it cannot be said. */
export type SalvageOption =
  | {
      readonly estimable: true;
      readonly possible: boolean;
      readonly value: number;
      readonly limit: number;
      /** Distance to the limit on the good side, µm; negative where it is not possible. */
      readonly marginUm: number;
      readonly cautions: readonly SalvageCaution[];
    }
  | { readonly estimable: false; readonly reason: string };

/**
 * Line-ream of both seats to one cylinder.
 *
 * @param reamMm - smallest line-ream of the pair (`smallestReam`), diameter mm
 * @param upperLimitMm - upper limit of the seats' size, mm; guard it before where the decision rule asks so
 * @returns possible where the ream does not exceed the limit; value and limit are diameters, mm
 * @throws CoreError not-finite, out-of-range
 */
export function reamSalvage(reamMm: number, upperLimitMm: number): SalvageOption {
  assertPositive("reamSalvage", { reamMm, upperLimitMm });
  return {
    estimable: true,
    possible: reamMm <= upperLimitMm,
    value: reamMm,
    limit: upperLimitMm,
    marginUm: (upperLimitMm - reamMm) * 1000,
    cautions: ["makers-limits-decide", "dust-and-chips", "never-knurl-punch-shim"],
  };
}

/** Usual most that is faced off a side, mm (from memory; a setting). */
export const USUAL_MOST_FACING_MM = 0.5;

/**
 * Facing both ends square: what is taken off, against the minimum width.
 *
 * @param input.smallestWidthMm - smallest measured width, mm
 * @param input.minimumWidthMm - lower limit of the width, mm
 * @param input.faceRunOutUm - run-out of each face over its outside diameter, µm: what has to come off that side at most
 * @param input.mostPerSideMm - most that may be taken off one side, mm
 * @returns possible where the width that is left reaches the minimum and neither side exceeds its most; value is that width
 * @throws CoreError not-finite, out-of-range
 * Note: the smallest width already is where at least one side is low, so cutting the full run-out of both sides from it
 * is the worst case.
 */
export function facingSalvage(input: {
  readonly smallestWidthMm: number;
  readonly minimumWidthMm: number;
  readonly faceRunOutUm: readonly [ds: number, nds: number];
  readonly mostPerSideMm?: number;
}): SalvageOption & { readonly perSideMm?: readonly [ds: number, nds: number] } {
  const { smallestWidthMm, minimumWidthMm, faceRunOutUm, mostPerSideMm = USUAL_MOST_FACING_MM } = input;
  assertPositive("facingSalvage", { smallestWidthMm, minimumWidthMm, mostPerSideMm });
  for (const value of faceRunOutUm) {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `facingSalvage: faceRunOutUm must be finite; got ${value}`);
    if (value < 0) throw new CoreError("out-of-range", `facingSalvage: faceRunOutUm must be >= 0; got ${value}`);
  }
  const perSideMm = [faceRunOutUm[0] / 1000, faceRunOutUm[1] / 1000] as const;
  const left = smallestWidthMm - perSideMm[0] - perSideMm[1];
  return {
    estimable: true,
    possible: left >= minimumWidthMm && Math.max(...perSideMm) <= mostPerSideMm,
    value: left,
    limit: minimumWidthMm,
    marginUm: (left - minimumWidthMm) * 1000,
    cautions: ["makers-limits-decide", "dust-and-chips"],
    perSideMm,
  };
}

/** Diametral gaps that retaining compounds fill, mm (published: 0.01-0.13, best 0.05-0.13); a setting. */
export type CompoundRange = { readonly leastMm: number; readonly bestFromMm: number; readonly mostMm: number };

export const USUAL_COMPOUND_RANGE: CompoundRange = { leastMm: 0.01, bestFromMm: 0.05, mostMm: 0.13 };

export type CompoundSalvage = SalvageOption & {
  /** Smallest and largest diametral gap, mm; negative is interference. */
  readonly gapMm?: readonly [least: number, most: number];
  /** More gap than the compound takes needs a sleeve; none needs no compound. */
  readonly finding?: "fits" | "fits-below-best" | "no-gap" | "needs-sleeve";
};

/**
 * Retaining compound in a seat that is too large: diametral gap against the compound's range.
 *
 * @param seatMm - smallest and largest measured size of the seat, mm
 * @param partMm - smallest and largest size of what goes in, mm
 * @returns possible where the whole gap lies within the range; value is the end of the gap that decides, limit that of the range
 * @throws CoreError not-finite, out-of-range
 * Source: range published by makers of retaining compounds (shells' reference collection)
 */
export function compoundSalvage(
  seatMm: readonly [least: number, most: number],
  partMm: readonly [least: number, most: number],
  range: CompoundRange = USUAL_COMPOUND_RANGE,
): CompoundSalvage {
  const [seatLeast, seatMost] = seatMm;
  const [partLeast, partMost] = partMm;
  assertPositive("compoundSalvage", { seatLeast, seatMost, partLeast, partMost, ...range });
  if (seatLeast > seatMost || partLeast > partMost || range.leastMm > range.mostMm)
    throw new CoreError("out-of-range", "compoundSalvage: seat, part and range must run from least to most");
  const gapMm = [seatLeast - partMost, seatMost - partLeast] as const;
  const tooWide = gapMm[1] > range.mostMm;
  const tooTight = gapMm[0] < range.leastMm;
  const finding = tooWide
    ? "needs-sleeve"
    : tooTight
      ? "no-gap"
      : gapMm[0] < range.bestFromMm
        ? "fits-below-best"
        : "fits";
  const low = { value: gapMm[0], limit: range.leastMm, marginUm: (gapMm[0] - range.leastMm) * 1000 };
  const high = { value: gapMm[1], limit: range.mostMm, marginUm: (range.mostMm - gapMm[1]) * 1000 };
  return {
    estimable: true,
    possible: !tooWide && !tooTight,
    ...(tooWide || (!tooTight && high.marginUm < low.marginUm) ? high : low),
    cautions: ["makers-limits-decide", "compound-data-sheet", "never-knurl-punch-shim"],
    gapMm,
    finding,
  };
}

function assertPositive(caller: string, values: Readonly<Record<string, number>>): void {
  for (const [name, value] of Object.entries(values)) {
    if (!Number.isFinite(value)) throw new CoreError("not-finite", `${caller}: ${name} must be finite; got ${value}`);
    if (!(value > 0)) throw new CoreError("out-of-range", `${caller}: ${name} must be > 0; got ${value}`);
  }
}
