import { BORE_RANDOM_UM, type BoreDesign } from "./bore-seat";
import { leastSquaresFactors, type LeastSquaresFactors } from "../numerics/least-squares";
import { residualLimit } from "./residual-limit";

/** A diameter that does not fit the others of its seat: its place, and how far it lies from what they foretell, µm. */
export type RejectedDiameter = { readonly index: number; readonly byUm: number };

/** One reading less has to leave a degree of freedom. */
const FREEDOM_MIN = 2;

type Row = { readonly index: number; readonly section: number; readonly directionDeg: number; readonly um: number };

function rowsOf({ sections }: BoreDesign, values: readonly (number | null)[]): Row[] {
  const first = values.find((value) => value !== null) ?? 0;
  return sections.flatMap(({ indices, directionsDeg }, section) =>
    indices.flatMap((index, i): Row[] => {
      const value = values[index] ?? null;
      return value === null
        ? []
        : [{ index, section, directionDeg: directionsDeg[i] ?? 0, um: (value - first) * 1000 }];
    }),
  );
}

/** Factors by their design: the same for every frame of a plan. Emptied when full, as directions may come from anywhere. */
const known = new Map<string, LeastSquaresFactors | null>();
const KNOWN_MAX = 256;

function knownFactors(data: Float64Array, rows: number): LeastSquaresFactors | null {
  const key = `${rows} ${data.join(" ")}`;
  const found = known.get(key);
  if (found !== undefined) return found;
  if (known.size >= KNOWN_MAX) known.clear();
  const factors = leastSquaresFactors({ rows, cols: data.length / rows, data });
  known.set(key, factors.ok ? factors.value : null);
  return factors.ok ? factors.value : null;
}

/** Sum of squares about a mean per section and one oval of the seat, in units of the noise, with the rows' own residuals. */
function fit(rows: readonly Row[], stepUm: number) {
  const sections = [...new Set(rows.map(({ section }) => section))];
  const cols = sections.length + 2;
  const freedom = rows.length - cols;
  if (freedom < 1) return null;
  const data = new Float64Array(rows.length * cols);
  rows.forEach(({ section, directionDeg }, i) => {
    data[i * cols + sections.indexOf(section)] = 1;
    data[i * cols + cols - 2] = Math.cos((directionDeg * Math.PI) / 90);
    data[i * cols + cols - 1] = Math.sin((directionDeg * Math.PI) / 90);
  });
  const factors = knownFactors(data, rows.length);
  if (factors === null) return null;
  const { inverse, leverages } = factors;
  const coefficients = Array.from({ length: cols }, (_, j) =>
    rows.reduce((sum, { um }, i) => sum + inverse.data[j * rows.length + i]! * um, 0),
  );
  const residuals = rows.map(({ um }, i) =>
    coefficients.reduce((left, value, j) => left - data[i * cols + j]! * value, um),
  );
  const variance = BORE_RANDOM_UM ** 2 + stepUm ** 2 / 12;
  return { freedom, residuals, leverages, variance, sum: residuals.reduce((sum, r) => sum + r * r, 0) };
}

/** A reading that decides its own residual cannot be judged by it. */
const OWN_SHARE_MIN = 1e-6;

/**
 * The one diameter of a seat that the others reject (numbers.md A15): with it their residuals about a mean per section and one
 * oval are beyond the budget (level 0.001 %), without it they are inside.
 *
 * @param design - of the seat
 * @param values - readings of the inspection, mm, null where there is none
 * @param stepUm - step in which the sizes were keyed, µm
 * @returns null where the diameters are regular, too few, or not explained by a single one
 */
export function rejectedDiameter(
  design: BoreDesign,
  values: readonly (number | null)[],
  stepUm = 0,
): RejectedDiameter | null {
  const rows = rowsOf(design, values);
  const all = fit(rows, stepUm);
  if (all === null || all.freedom < FREEDOM_MIN || all.sum <= all.variance * residualLimit(all.freedom)) return null;
  let found: (RejectedDiameter & { readonly rest: number }) | null = null;
  for (const [i, { index }] of rows.entries()) {
    const share = 1 - (all.leverages[i] ?? 1);
    if (share < OWN_SHARE_MIN) continue;
    const residual = all.residuals[i] ?? 0;
    const rest = all.sum - (residual * residual) / share;
    if (rest > all.variance * residualLimit(all.freedom - 1) || (found !== null && rest >= found.rest)) continue;
    found = { index, byUm: residual / share, rest };
  }
  return found === null ? null : { index: found.index, byUm: found.byUm };
}
