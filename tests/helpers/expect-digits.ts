import { expect } from "vitest";

/**
 * Number of agreeing significant digits of `actual` with `expected`: the log relative error,
 * -log10(|actual - expected| / |expected|); with an expected value of 0 the log absolute error.
 */
export function agreeingDigits(actual: number, expected: number): number {
  if (!Number.isFinite(actual) || !Number.isFinite(expected)) return Object.is(actual, expected) ? Infinity : -Infinity;
  if (actual === expected) return Infinity;
  const error = Math.abs(actual - expected);
  return -Math.log10(expected === 0 ? error : error / Math.abs(expected));
}

/** Fails unless `actual` agrees with `expected` to at least `digits` significant digits. */
export function expectDigits(actual: number, expected: number, digits: number): void {
  const agreed = agreeingDigits(actual, expected);
  expect(
    agreed,
    `${actual} against ${expected}: ${agreed.toFixed(2)} digits agree, ${digits} asked`,
  ).toBeGreaterThanOrEqual(digits);
}
