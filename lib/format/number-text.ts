/** The decimal sign that people at this station write and read. */
export type DecimalSign = "." | ",";

const NO_BREAK_SPACE = "\u00a0";
const THIN_NO_BREAK_SPACE = "\u202f";
const MINUS = "\u2212";
const PRIME = "\u2032";
/** Doubles carry 15 decimal digits for certain: rounding on those makes 40.9785 round as it is written. */
const CERTAIN_DIGITS = 15;

function roundedMagnitude(magnitude: number, digits: number): string {
  const certain = magnitude.toPrecision(CERTAIN_DIGITS);
  if (certain.includes("e")) return magnitude.toFixed(digits);
  const shifted = Math.round(Number(`${certain}e${digits}`));
  return Number(`${shifted}e-${digits}`).toFixed(digits);
}

/**
 * A number with a fixed count of decimals, half away from zero, with a true minus sign and never "−0".
 *
 * @param value - finite number in any unit; anything else gives "not estimable"
 * @param digits - decimals, 0 to 9
 */
export function formatFixed(value: number, digits: number, decimal: DecimalSign = "."): string {
  if (!Number.isFinite(value)) return "not estimable";
  const text = roundedMagnitude(Math.abs(value), digits);
  const negative = value < 0 && /[1-9]/.test(text);
  return `${negative ? MINUS : ""}${decimal === "," ? text.replace(".", ",") : text}`;
}

/** As formatFixed, with a plus sign before positive values: for deviations. */
export function formatSigned(value: number, digits: number, decimal: DecimalSign = "."): string {
  const text = formatFixed(value, digits, decimal);
  return value > 0 && /[1-9]/.test(text) ? `+${text}` : text;
}

/** Decimals that a gauge of this resolution shows: 0.001 -> 3, 0.005 -> 3, 0.01 -> 2, 1 -> 0. */
export function decimalsOfResolution(resolution: number): number {
  if (!Number.isFinite(resolution) || resolution <= 0) return 3;
  for (let digits = 0; digits < 9; digits += 1) {
    if (Math.abs(Math.round(resolution * 10 ** digits) - resolution * 10 ** digits) < 1e-9) return digits;
  }
  return 9;
}

/** Joins a number and its unit so that no line breaks between them. */
export function withUnit(numberText: string, unit: string): string {
  return `${numberText}${NO_BREAK_SPACE}${unit}`;
}

/** A size without its unit, to the gauge's resolution: "40.968". */
export function formatSizeMm(valueMm: number, resolutionMm = 0.001, decimal: DecimalSign = "."): string {
  return formatFixed(valueMm, decimalsOfResolution(resolutionMm), decimal);
}

/** A size with its unit: "40.968 mm". */
export function formatMm(valueMm: number, resolutionMm = 0.001, decimal: DecimalSign = "."): string {
  return withUnit(formatSizeMm(valueMm, resolutionMm, decimal), "mm");
}

/** A signed deviation: "−7 µm", "+12 µm", "0 µm". */
export function formatDeviationUm(valueUm: number, digits = 0, decimal: DecimalSign = "."): string {
  return withUnit(formatSigned(valueUm, digits, decimal), "µm");
}

/** Form or position: "22 µm". */
export function formatUm(valueUm: number, digits = 0, decimal: DecimalSign = "."): string {
  return withUnit(formatFixed(valueUm, digits, decimal), "µm");
}

/** A unit as it is written after a number or in a title: "mm", "µm", "arc min". */
export function unitText(unit: string): string {
  return unit === "arcmin" ? "arc min" : unit;
}

/** An expanded uncertainty: "±5.9 µm". */
export function formatUncertainty(
  value: number,
  unit: string,
  digits = unit === "mm" ? 4 : 1,
  decimal: DecimalSign = ".",
): string {
  return withUnit(`±${formatFixed(Math.abs(value), digits, decimal)}`, unitText(unit));
}

/** An angle in arc minutes: "1.6′". */
export function formatArcMinutes(valueArcmin: number, digits = 1, decimal: DecimalSign = "."): string {
  return `${formatFixed(valueArcmin, digits, decimal)}${PRIME}`;
}

/** An angle in degrees: "120°". */
export function formatDegrees(valueDeg: number, digits = 0, decimal: DecimalSign = "."): string {
  return `${formatFixed(valueDeg, digits, decimal)}°`;
}

/** Decimals in which each unit of a characteristic is shown. */
export const SHOWN_DECIMALS = { mm: 3, µm: 1, arcmin: 1 } as const;

export type ShownUnit = keyof typeof SHOWN_DECIMALS;

/** A value of a characteristic in its own unit: mm to 0.001, µm and arc minutes to 0.1. */
export function formatValue(
  value: number,
  unit: ShownUnit,
  options: { readonly digits?: number; readonly decimal?: DecimalSign } = {},
): string {
  const text = formatFixed(value, options.digits ?? SHOWN_DECIMALS[unit], options.decimal);
  return unit === "arcmin" ? `${text}${PRIME}` : withUnit(text, unit);
}

/** Limits in words: "40.950 to 41.000 mm", "at most 40 µm", "at least 86.3 mm". */
export function formatLimits(
  lower: number | null,
  upper: number | null,
  unit: ShownUnit,
  options: { readonly digits?: number; readonly decimal?: DecimalSign } = {},
): string {
  if (lower !== null && upper !== null) {
    return `${formatFixed(lower, options.digits ?? SHOWN_DECIMALS[unit], options.decimal)} to ${formatValue(upper, unit, options)}`;
  }
  if (upper !== null) return `at most ${formatValue(upper, unit, options)}`;
  if (lower !== null) return `at least ${formatValue(lower, unit, options)}`;
  return "no limit";
}

/** What bounds leave possible, in words: "40.953 to 40.997 mm", "at most 1.4′", "not bounded". */
export function formatBounds(
  { least, most }: { readonly least: number | null; readonly most: number | null },
  unit: ShownUnit,
  options: { readonly digits?: number; readonly decimal?: DecimalSign } = {},
): string {
  return least === null && most === null ? "not bounded" : formatLimits(least, most, unit, options);
}

/** A whole count with thin spaces between thousands from five digits on: "48 112". */
export function formatCount(count: number): string {
  const text = formatFixed(count, 0);
  return Math.abs(count) < 10_000 ? text : text.replace(/\B(?=(\d{3})+$)/g, THIN_NO_BREAK_SPACE);
}

/** A count with its noun: "1 frame", "48 frames". */
export function formatCounted(count: number, one: string, many = `${one}s`): string {
  return withUnit(formatCount(count), count === 1 ? one : many);
}

/** A fraction as percent; below 0.1 % with two decimals, and "under 0.01 %" instead of a zero that is none. */
export function formatPercent(fraction: number, decimal: DecimalSign = "."): string {
  if (!Number.isFinite(fraction)) return "not estimable";
  const percent = fraction * 100;
  if (percent > 0 && percent < 0.01) return `under ${withUnit(formatFixed(0.01, 2, decimal), "%")}`;
  const digits =
    percent !== 0 && Math.abs(percent) < 0.1 ? 2 : Number.isInteger(Math.round(percent * 1e6) / 1e6) ? 0 : 1;
  return withUnit(formatFixed(percent, digits, decimal), "%");
}

/** A fraction as parts per million: "8 100 ppm" below 10 000 without space, "under 1 ppm" instead of a zero that is none. */
export function formatPpm(fraction: number): string {
  if (!Number.isFinite(fraction)) return "not estimable";
  const ppm = fraction * 1e6;
  if (ppm > 0 && ppm < 1) return `under ${withUnit("1", "ppm")}`;
  return withUnit(formatCount(Math.round(ppm)), "ppm");
}

/** A capability index: two decimals, no unit. */
export function formatIndex(index: number, decimal: DecimalSign = "."): string {
  return formatFixed(index, 2, decimal);
}

/** An amount in the plant's own money, which nobody is told the name of: two decimals where it has any. */
export function formatMoney(amount: number, decimal: DecimalSign = "."): string {
  return formatFixed(amount, Number.isInteger(amount) ? 0 : 2, decimal);
}
