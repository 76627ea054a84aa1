/** Frames that count as much as the assumption of no correlation: keeps the matrix definite. A choice, no source. */
const SHRINKAGE_FRAMES = 8;

/**
 * Correlation matrix of standardised streams, drawn towards no correlation.
 * Formula: r_ij = sum (u_i u_j) / sqrt(sum u_i^2 sum u_j^2) over the frames that have both, times n / (n + 8).
 *
 * @param rows - one row a frame, one standardised value a stream; null where there is none
 * @param streams - number of streams
 * @returns Float64Array[streams^2], row-major, symmetric, ones on its diagonal
 * Edge cases: no common frame -> 0
 * Source: Ledoit and Wolf 2004, Journal of Multivariate Analysis 88 365-411, for drawing towards a diagonal; the weight is a choice
 */
export function streamCorrelation(rows: readonly (readonly (number | null)[])[], streams: number): Float64Array {
  const matrix = new Float64Array(streams * streams);
  for (let i = 0; i < streams; i++) {
    matrix[i * streams + i] = 1;
    for (let j = 0; j < i; j++) {
      let [n, xy, xx, yy] = [0, 0, 0, 0];
      for (const row of rows) {
        const [x, y] = [row[i] ?? null, row[j] ?? null];
        if (x === null || y === null) continue;
        n++;
        xy += x * y;
        xx += x * x;
        yy += y * y;
      }
      const r = xx > 0 && yy > 0 ? ((xy / Math.sqrt(xx * yy)) * n) / (n + SHRINKAGE_FRAMES) : 0;
      matrix[i * streams + j] = r;
      matrix[j * streams + i] = r;
    }
  }
  return matrix;
}
