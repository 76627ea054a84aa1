import { gaussLegendreRule } from "./gauss-legendre";

/**
 * Gauss-Legendre places on an interval: between them a polynomial follows a smooth function best.
 *
 * @param count - integer 2..200
 * @returns ascending
 */
export function legendrePlaces(low: number, high: number, count: number): Float64Array {
  return gaussLegendreRule(count).nodes.map((node) => low + ((high - low) / 2) * (node + 1));
}

/**
 * Values of the Lagrange polynomials of `places` at points: a function known at the places is at a point the sum of its values
 * times that point's row.
 *
 * @param places - number[n], different, n <= 200
 * @param points - number[m]
 * @returns Float64Array[m * n], row by point, column by place
 * Method: barycentric form.
 * Source: Berrut and Trefethen 2004, SIAM Review 46(3) 501-517
 */
export function lagrangeValues(places: Float64Array, points: Float64Array): Float64Array {
  const n = places.length;
  const span = (places[n - 1]! - places[0]!) / 4;
  const factors = places.map((place, k) =>
    places.reduce((product, other, j) => (j === k ? product : product * (span / (place - other))), 1),
  );
  const values = new Float64Array(points.length * n);
  points.forEach((point, row) => {
    const same = places.indexOf(point);
    if (same >= 0) {
      values[row * n + same] = 1;
      return;
    }
    let sum = 0;
    for (let k = 0; k < n; k++) sum += factors[k]! / (point - places[k]!);
    for (let k = 0; k < n; k++) values[row * n + k] = factors[k]! / (point - places[k]!) / sum;
  });
  return values;
}
