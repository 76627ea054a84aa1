import { type HarmonicDesign, designHarmonics, fitHarmonics } from "./harmonic-fit";
import { missedShare } from "./missed-share";

/** Standard deviation of one two-point reading by itself, µm (shop budget, invented for the demonstration). */
export const BORE_RANDOM_UM = 1.5;

/** One due two-point size: its place among the readings of the inspection. */
export type BoreReading = { readonly index: number; readonly depthMm: number; readonly directionDeg: number };

export type BoreSectionDesign = {
  readonly depthMm: number;
  readonly indices: readonly number[];
  readonly directionsDeg: readonly number[];
  /** Second harmonic from three or more directions, else null. */
  readonly harmonics: HarmonicDesign | null;
  /** Mean square of the part of a unit oval's crest that the directions miss, beyond what the full plan's four miss. */
  readonly unseenOval: number;
  /** The smallest and largest size that the oval gives are judged beside those read, since a part of it lies between them. */
  readonly judgesFitted: boolean;
  /** Variance of such a size for unit variance of a reading, >= 1; 1 where none is judged. */
  readonly fittedVariance: number;
};

/** Sections by depth, shallowest first. */
export type BoreDesign = { readonly sections: readonly BoreSectionDesign[]; readonly indices: readonly number[] };

/** Second harmonic of the radius of one section. */
export type SecondHarmonic = {
  /** Mean diameter of the fit. */
  readonly meanMm: number;
  readonly amplitudeUm: number;
  /** Direction of the largest diameter, degrees clockwise from 12 in [0, 180). */
  readonly positionDeg: number;
  /** Standard error of a component of the amplitude: from the residuals, at least from the known noise of one reading. */
  readonly standardErrorUm: number;
};

export type BoreSection = {
  readonly depthMm: number;
  readonly count: number;
  readonly meanMm: number;
  readonly rangeUm: number;
  readonly secondHarmonic: SecondHarmonic | null;
  /** The larger of the range and four times the amplitude of the 2nd harmonic; null from a single direction. */
  readonly ovalityUm: number | null;
  /** Direction of the largest diameter seen, or of the fitted one where the fit says more. */
  readonly largestDirectionDeg: number;
  /** Smallest and largest size of the fitted oval where they are judged, else null. */
  readonly fitted: FittedSizes | null;
};

/** Sizes of a section by its mean and its second harmonic, mm, with their directions in [0, 180). */
export type FittedSizes = {
  readonly smallestMm: number;
  readonly smallestDirectionDeg: number;
  readonly largestMm: number;
  readonly largestDirectionDeg: number;
};

export type BoreMeasurement = {
  readonly smallestMm: number;
  readonly smallestIndex: number;
  readonly largestMm: number;
  readonly largestIndex: number;
  readonly meanMm: number;
  readonly rangeUm: number;
  /** Sections with at least one reading, shallowest first. */
  readonly sections: readonly BoreSection[];
  readonly ovalityUm: number | null;
  /** Place in `sections` of the worst ovality. */
  readonly ovalitySection: number | null;
  /** Mean of the deepest section minus that of the shallowest; null from one section. */
  readonly taperUm: number | null;
};

function secondHarmonicDesign(directionsDeg: readonly number[]): HarmonicDesign | null {
  if (directionsDeg.length < 3) return null;
  const design = designHarmonics(directionsDeg, [2]);
  return design.ok ? design.value : null;
}

/** Directions of the full plan: what they miss of an oval is part of the drawing's own U. */
const FULL_DIRECTIONS_DEG = [0, 45, 90, 135];
const FULL_MISSED = missedShare(FULL_DIRECTIONS_DEG, 2);

/** Unseen ovals below this share of what four directions miss are rounding. */
const MISSED_ROUNDING = 1e-9;

/** A fitted size with a larger variance than this comes from directions too close to each other to say anything. */
const FITTED_VARIANCE_MAX = 4;

/** Largest variance over all directions of mean + cos + sin, for unit variance of a reading. */
function largestSizeVariance({ covariance }: HarmonicDesign): number {
  let largest = 0;
  for (let degrees = 0; degrees < 360; degrees += 1) {
    const row = [1, Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
    let variance = 0;
    for (let i = 0; i < 3; i += 1)
      for (let j = 0; j < 3; j += 1) variance += row[i]! * row[j]! * covariance[3 * i + j]!;
    largest = Math.max(largest, variance);
  }
  return largest;
}

/** What the directions of a section leave unseen, and what its oval gives for it. */
function ovalOf(directionsDeg: readonly number[]) {
  const harmonics = secondHarmonicDesign(directionsDeg);
  const missed = missedShare(directionsDeg, 2) - FULL_MISSED;
  const unseenOval = missed > MISSED_ROUNDING * FULL_MISSED ? missed : 0;
  const variance = harmonics === null ? Infinity : largestSizeVariance(harmonics);
  const judgesFitted = unseenOval > 0 && variance <= FITTED_VARIANCE_MAX;
  return { harmonics, unseenOval, judgesFitted, fittedVariance: judgesFitted ? Math.max(1, variance) : 1 };
}

/**
 * Groups the due two-point sizes of one seat by section.
 *
 * @param readings - each with a depth in mm and a direction in degrees in [0, 180), distinct
 */
export function designBore(readings: readonly BoreReading[]): BoreDesign {
  const depths = [...new Set(readings.map((r) => r.depthMm))].sort((a, b) => a - b);
  const sections = depths.map((depthMm): BoreSectionDesign => {
    const here = readings.filter((r) => r.depthMm === depthMm);
    const directionsDeg = here.map((r) => r.directionDeg);
    return {
      depthMm,
      indices: here.map((r) => r.index),
      directionsDeg,
      ...ovalOf(directionsDeg),
    };
  });
  return { sections, indices: readings.map((r) => r.index) };
}

/** The same section with only the readings that are there. */
function presentSection(section: BoreSectionDesign, values: readonly (number | null)[]): BoreSectionDesign | null {
  if (section.indices.every((index) => values[index] !== null)) return section;
  const places = section.indices.map((_, place) => place).filter((place) => values[section.indices[place]!] !== null);
  if (places.length === 0) return null;
  const directionsDeg = places.map((place) => section.directionsDeg[place]!);
  return {
    depthMm: section.depthMm,
    indices: places.map((place) => section.indices[place]!),
    directionsDeg,
    ...ovalOf(directionsDeg),
  };
}

function secondHarmonic(harmonics: HarmonicDesign, diametersMm: Float64Array): SecondHarmonic {
  const fit = fitHarmonics(harmonics, diametersMm);
  const second = fit.harmonics[0]!;
  const sdUm = Math.max((fit.residualSd ?? 0) * 1000, BORE_RANDOM_UM);
  const variance = Math.max(harmonics.covariance[4]!, harmonics.covariance[8]!);
  // A diameter swings by twice the amplitude of the radius.
  return {
    meanMm: fit.mean,
    amplitudeUm: (second.amplitude * 1000) / 2,
    positionDeg: second.positionDeg,
    standardErrorUm: (sdUm * Math.sqrt(variance)) / 2,
  };
}

/**
 * Sizes where the fitted oval is smallest and largest. Noise makes an amplitude too large: of its square what the known noise of the
 * readings gives on average is taken off, so that a round seat is not judged as an oval one.
 * Source: E[a^2] = true a^2 + variance of both components, for any error of mean 0.
 */
function fittedSizes(section: BoreSectionDesign, second: SecondHarmonic | null): FittedSizes | null {
  if (!section.judgesFitted || second === null || section.harmonics === null) return null;
  const { meanMm } = second;
  const { covariance } = section.harmonics;
  const noiseUm2 = BORE_RANDOM_UM ** 2 * (covariance[4]! + covariance[8]!);
  const swingMm = Math.sqrt(Math.max(0, (2 * second.amplitudeUm) ** 2 - noiseUm2)) / 1000;
  return {
    smallestMm: meanMm - swingMm,
    smallestDirectionDeg: (second.positionDeg + 90) % 180,
    largestMm: meanMm + swingMm,
    largestDirectionDeg: second.positionDeg,
  };
}

function measureSection(section: BoreSectionDesign, values: readonly (number | null)[]): BoreSection {
  const count = section.indices.length;
  const diameters = new Float64Array(count);
  let smallest = Infinity;
  let largest = -Infinity;
  let largestPlace = 0;
  let sum = 0;
  for (let i = 0; i < count; i += 1) {
    const diameter = values[section.indices[i]!]!;
    diameters[i] = diameter;
    sum += diameter - diameters[0]!;
    if (diameter < smallest) smallest = diameter;
    if (diameter > largest) {
      largest = diameter;
      largestPlace = i;
    }
  }
  const rangeUm = (largest - smallest) * 1000;
  const second = section.harmonics === null ? null : secondHarmonic(section.harmonics, diameters);
  const fitted = second === null ? 0 : 4 * second.amplitudeUm;
  return {
    depthMm: section.depthMm,
    count,
    meanMm: diameters[0]! + sum / count,
    rangeUm,
    secondHarmonic: second,
    ovalityUm: count < 2 ? null : Math.max(rangeUm, fitted),
    largestDirectionDeg:
      second !== null && fitted > rangeUm ? second.positionDeg : section.directionsDeg[largestPlace]!,
    fitted: fittedSizes(section, second),
  };
}

/**
 * Size and form of one seat from two-point sizes (ISO 14405-1 LP): smallest, largest, mean, ovality, taper.
 * Ovality of a section = max(largest - smallest, 4 A2), A2 the amplitude of the 2nd harmonic of the radius; of the seat,
 * the worst section. Taper = mean of the deepest section - mean of the shallowest, signed, not extrapolated.
 *
 * @param design - from designBore
 * @param values - readings of the inspection, mm, null where there is none
 * @returns the seat, sizes mm, form µm; null where no reading of the seat is there. Readings that are missing are left out.
 * Edge cases: one direction in every section -> ovality null; one section -> taper null; ties -> the first reading.
 * Accuracy: 1e-9 mm on synthetic seats (tests/core/metrology/bore-seat.test.ts).
 */
export function measureBore(design: BoreDesign, values: readonly (number | null)[]): BoreMeasurement | null {
  const sections: BoreSection[] = [];
  let smallestIndex = -1;
  let largestIndex = -1;
  let smallestMm = Infinity;
  let largestMm = -Infinity;
  let first = 0;
  let sum = 0;
  let count = 0;
  for (const index of design.indices) {
    const diameter = values[index];
    if (diameter === null || diameter === undefined) continue;
    if (count === 0) first = diameter;
    sum += diameter - first;
    count += 1;
    if (diameter < smallestMm) {
      smallestMm = diameter;
      smallestIndex = index;
    }
    if (diameter > largestMm) {
      largestMm = diameter;
      largestIndex = index;
    }
  }
  if (count === 0) return null;
  for (const section of design.sections) {
    const present = presentSection(section, values);
    if (present !== null) sections.push(measureSection(present, values));
  }
  let ovalitySection: number | null = null;
  let ovalityUm: number | null = null;
  sections.forEach((section, place) => {
    if (section.ovalityUm === null || (ovalityUm !== null && section.ovalityUm <= ovalityUm)) return;
    ovalityUm = section.ovalityUm;
    ovalitySection = place;
  });
  return {
    smallestMm,
    smallestIndex,
    largestMm,
    largestIndex,
    meanMm: first + sum / count,
    rangeUm: (largestMm - smallestMm) * 1000,
    sections,
    ovalityUm,
    ovalitySection,
    taperUm: sections.length < 2 ? null : (sections[sections.length - 1]!.meanMm - sections[0]!.meanMm) * 1000,
  };
}
