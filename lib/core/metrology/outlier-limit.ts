/** Share of clean sets in which a residual test may call an outlier. */
const FALSE_ALARM_SHARE = 0.01;

/**
 * Upper tail of Student's t for integer degrees of freedom, P(T > t), t >= 0.
 * Formula: finite trigonometric series with theta = atan(t / sqrt(n)).
 * Source: Abramowitz & Stegun 26.7.3, 26.7.4.
 */
function studentUpperTail(t: number, n: number): number {
  const theta = Math.atan2(t, Math.sqrt(n));
  const cos2 = Math.cos(theta) ** 2;
  let term = n % 2 === 1 ? Math.cos(theta) : 1;
  let sum = n === 1 ? 0 : term;
  for (let j = n % 2 === 1 ? 3 : 2; j <= n - 2; j += 2) {
    term *= (cos2 * (j - 1)) / j;
    sum += term;
  }
  const inside = n % 2 === 1 ? (2 / Math.PI) * (theta + Math.sin(theta) * sum) : Math.sin(theta) * sum;
  return (1 - inside) / 2;
}

/**
 * Limit of the externally studentised residual of k readings, two-sided 1 % shared out over all of them (Bonferroni).
 *
 * @param k - number of readings
 * @param n - degrees of freedom left with one reading less
 * @returns the limit, or null where n < 1: an outlier cannot be told from the others
 * Method: bisection on the logarithm of t; the tail is monotone.
 */
export function outlierLimit(k: number, n: number): number | null {
  if (n < 1) return null;
  const share = FALSE_ALARM_SHARE / (2 * k);
  let low = 0;
  let high = 20;
  for (let i = 0; i < 60; i += 1) {
    const middle = (low + high) / 2;
    if (studentUpperTail(Math.exp(middle), n) > share) low = middle;
    else high = middle;
  }
  return Math.exp(high);
}
