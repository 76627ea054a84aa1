/**
 * A number to a count of decimals, as the digits that are written of it are read again. For numbers that go on as numbers; what
 * people read is rounded by lib/format.
 *
 * @param value - finite
 * @param decimals - 0 to 100
 * Edge cases: ties go by the binary value, which may lie on either side of what is written (40.9785 -> 40.978)
 */
export function toDecimals(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}

/**
 * A number to a count of significant digits: takes the last bits of a computation off.
 *
 * @param value - finite
 * @param digits - 1 to 100
 */
export function toSignificant(value: number, digits: number): number {
  return Number(value.toPrecision(digits));
}

/** The digits of a number with a fixed count of decimals and an ASCII minus sign, for files and drawings that programs read. */
export function plainDecimals(value: number, decimals: number): string {
  return value.toFixed(decimals);
}
