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

/** What is fitted to the readings of a seat that are there. */
type SeatFit = { readonly data: Float64Array; readonly cols: number; readonly factors: LeastSquaresFactors };

/** Of seats with no reading missing: the same for every frame of a plan. */
const whole = new WeakMap<BoreDesign, SeatFit | null>();

function designRows(rows: readonly Row[]): SeatFit | null {
  const sections = [...new Set(rows.map(({ section }) => section))];
  const cols = sections.length + 2;
  if (rows.length <= cols) return null;
  const data = new Float64Array(rows.length * cols);
  rows.forEach(({ section, directionDeg }, i) => {
    data[i * cols + sections.indexOf(section)] = 1;
    data[i * cols + cols - 2] = Math.cos((directionDeg * Math.PI) / 90);
    data[i * cols + cols - 1] = Math.sin((directionDeg * Math.PI) / 90);
  });
  const factors = leastSquaresFactors({ rows: rows.length, cols, data });
  return factors.ok ? { data, cols, factors: factors.value } : null;
}

function seatFit(design: BoreDesign, rows: readonly Row[]): SeatFit | null {
  if (rows.length < design.indices.length) return designRows(rows);
  const known = whole.get(design);
  if (known !== undefined) return known;
  const made = designRows(rows);
  whole.set(design, made);
  return made;
}

/** Sum of squares about a mean per section and one oval of the seat, with the rows' own residuals, µm. */
function fit(design: BoreDesign, rows: readonly Row[], stepUm: number) {
  const seat = seatFit(design, rows);
  if (seat === null) return null;
  const { data, cols, factors } = seat;
  const n = rows.length;
  const residuals = Float64Array.from(rows, ({ um }) => um);
  for (let j = 0; j < cols; j += 1) {
    let coefficient = 0;
    for (let i = 0; i < n; i += 1) coefficient += factors.inverse.data[j * n + i]! * rows[i]!.um;
    for (let i = 0; i < n; i += 1) residuals[i]! -= data[i * cols + j]! * coefficient;
  }
  let sum = 0;
  for (const residual of residuals) sum += residual * residual;
  const variance = BORE_RANDOM_UM ** 2 + stepUm ** 2 / 12;
  return { freedom: n - cols, residuals, leverages: factors.leverages, variance, sum };
}

/** A reading that decides its own residual cannot be judged by it. */
const OWN_SHARE_MIN = 1e-6;

/**
 * The one diameter of a seat that the others reject: with it their residuals about a mean per section and one
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
  const all = fit(design, rows, stepUm);
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
