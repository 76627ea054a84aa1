import { CoreError } from "../../errors";

/**
 * What earlier lives of such tools say of the next one, in the stream's unit and by frame: level at the change, slope a frame, and the
 * scatter of one frame about the line. A spread of Infinity says nothing.
 */
export type WearPrior = Readonly<{
  level: Readonly<{ mean: number; sd: number }>;
  slope: Readonly<{ mean: number; sd: number }>;
  /** Standard deviation of one frame about its line, > 0. */
  noiseSd: number;
}>;

/** What is known of the line of one tool: plain data, information form. */
export type WearLine = Readonly<{
  prior: WearPrior;
  /** Frames that were taken in. */
  frames: number;
  /** Information of level and slope: of the level, of both, of the slope. */
  information: readonly [number, number, number];
  weighted: readonly [number, number];
}>;

/** Level and slope with the standard deviation of a new value at an age. */
export type WearForecast = Readonly<{ level: number; slope: number; expected: number; sd: number }>;

/** Frames without which a line of which nothing is known beforehand does not speak. A choice, no source. */
export const SILENT_FRAMES = 25;

/**
 * The line of a tool before its first frame.
 * @throws CoreError out-of-range for a spread not above 0
 */
export function newWearLine(prior: WearPrior): WearLine {
  const { level, slope, noiseSd } = prior;
  if (!(noiseSd > 0 && noiseSd < Infinity) || !(level.sd > 0) || !(slope.sd > 0))
    throw new CoreError("out-of-range", "newWearLine: standard deviations must be above 0");
  const [ofLevel, ofSlope] = [level.sd ** -2, slope.sd ** -2];
  return {
    prior,
    frames: 0,
    information: [ofLevel, 0, ofSlope],
    weighted: [ofLevel === 0 ? 0 : ofLevel * level.mean, ofSlope === 0 ? 0 : ofSlope * slope.mean],
  };
}

/**
 * The line with one more frame.
 * @param age - frames since the change, 1 for the first
 */
export function enterWear(line: WearLine, age: number, value: number): WearLine {
  const { prior, frames, information, weighted } = line;
  if (!Number.isFinite(age) || !Number.isFinite(value))
    throw new CoreError("not-finite", `enterWear: age and value must be finite; got ${age} and ${value}`);
  const weight = prior.noiseSd ** -2;
  return {
    prior,
    frames: frames + 1,
    information: [information[0] + weight, information[1] + weight * age, information[2] + weight * age * age],
    weighted: [weighted[0] + weight * value, weighted[1] + weight * age * value],
  };
}

/**
 * What a frame of an age is expected to have.
 * @returns null as long as the line is not determined: of a diffuse one for 25 frames
 */
export function wearForecast(line: WearLine, age: number): WearForecast | null {
  const { prior, frames, information, weighted } = line;
  const isDiffuse = prior.slope.sd === Infinity;
  if (isDiffuse && frames < SILENT_FRAMES) return null;
  const [a, b, c] = information;
  const determinant = a * c - b * b;
  if (!(determinant > 0)) return null;
  const level = (c * weighted[0] - b * weighted[1]) / determinant;
  const slope = (a * weighted[1] - b * weighted[0]) / determinant;
  const variance = (c - 2 * b * age + a * age * age) / determinant;
  return { level, slope, expected: level + slope * age, sd: Math.hypot(prior.noiseSd, Math.sqrt(variance)) };
}

/**
 * One-step prediction residual of a tool's life in its standard deviations: independent and standard normal from the first frame on, as
 * long as the tool wears as its like have.
 * Formula: (x - E x) / sd x, both from the frames before and from the prior, for a line with known noise.
 *
 * @param line - of the frames before; every frame is taken in afterwards, cleared or not
 * @param age - frames since the change, 1 for the first
 * @returns null where the line does not speak yet
 * Accuracy: six digits of another program in tests/core/control/alarm/wear-line.test.ts
 * Source: Brown, Durbin and Evans 1975, Journal of the Royal Statistical Society B 37 149-192
 */
export function wearResidual(line: WearLine, age: number, value: number): number | null {
  const forecast = wearForecast(line, age);
  return forecast === null ? null : (value - forecast.expected) / forecast.sd;
}
