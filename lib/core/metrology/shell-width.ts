import { type HarmonicDesign, designHarmonics, fitHarmonics } from "./harmonic-fit";

/** Standard uncertainty of one width reading, µm: half of U = 20 µm (invented for the demonstration). */
export const WIDTH_STANDARD_UM = 10;

export type WidthReading = { readonly index: number; readonly clockDeg: number };

export type WidthDesign = {
  readonly indices: readonly number[];
  readonly clocksDeg: readonly number[];
  /** First harmonic from three or more positions, else null. */
  readonly harmonics: HarmonicDesign | null;
};

/** Shell width, mm; how far the faces are from parallel, µm over the diameter at which the width was taken. */
export type WidthMeasurement = {
  readonly smallestMm: number;
  readonly smallestIndex: number;
  readonly largestMm: number;
  readonly largestIndex: number;
  readonly meanMm: number;
  /** First harmonic of the width, µm; null from fewer than three positions. */
  readonly towards12Um: number | null;
  readonly towards3Um: number | null;
  /** 2 x the amplitude of that harmonic; largest minus smallest where there are only two positions. */
  readonly parallelismUm: number | null;
  readonly count: number;
};

function widthHarmonics(clocksDeg: readonly number[]): HarmonicDesign | null {
  const design = designHarmonics(clocksDeg, [1]);
  return design.ok ? design.value : null;
}

export function designWidth(readings: readonly WidthReading[]): WidthDesign {
  const clocksDeg = readings.map((r) => r.clockDeg);
  return { indices: readings.map((r) => r.index), clocksDeg, harmonics: widthHarmonics(clocksDeg) };
}

/**
 * Width of the shell: smallest, largest, mean, and parallelism of the faces from the widths.
 *
 * @param values - readings of the inspection, mm; null where there is none
 * @returns null where no width is there; readings that are missing are left out
 */
export function measureWidth(design: WidthDesign, values: readonly (number | null)[]): WidthMeasurement | null {
  const places = design.indices.map((_, place) => place).filter((place) => values[design.indices[place]!] !== null);
  if (places.length === 0) return null;
  const harmonics =
    places.length === design.indices.length
      ? design.harmonics
      : widthHarmonics(places.map((place) => design.clocksDeg[place]!));
  const widths = new Float64Array(places.length);
  let smallest = 0;
  let largest = 0;
  let sum = 0;
  for (let i = 0; i < places.length; i += 1) {
    widths[i] = values[design.indices[places[i]!]!]!;
    sum += widths[i]! - widths[0]!;
    if (widths[i]! < widths[smallest]!) smallest = i;
    if (widths[i]! > widths[largest]!) largest = i;
  }
  const first = harmonics === null ? null : fitHarmonics(harmonics, widths).harmonics[0]!;
  const swing = places.length < 2 ? null : (widths[largest]! - widths[smallest]!) * 1000;
  return {
    smallestMm: widths[smallest]!,
    smallestIndex: design.indices[places[smallest]!]!,
    largestMm: widths[largest]!,
    largestIndex: design.indices[places[largest]!]!,
    meanMm: widths[0]! + sum / places.length,
    towards12Um: first === null ? null : first.cos * 1000,
    towards3Um: first === null ? null : first.sin * 1000,
    parallelismUm: first === null ? swing : 2 * first.amplitude * 1000,
    count: places.length,
  };
}
