import { requireNominal } from "./tolerance-grade";

/** Largest nominal size of each step of the fundamental deviations, mm: finer than the ranges of the grades. */
const STEPS_UP_TO = [
  3, 6, 10, 14, 18, 24, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250, 280, 315, 355, 400, 450, 500,
];

/** A deviation for every step; a row of 13 stands for the ranges of the grades, whose steps are alike. */
type Row = readonly number[];

/** Steps by range of the grades. */
const RANGE_OF_STEP = [0, 1, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 8, 9, 9, 9, 10, 10, 11, 11, 12, 12];

/** Upper deviation es of shafts a to g, µm below nominal. */
const BELOW: Readonly<Record<string, Row>> = {
  a: [
    270, 270, 280, 290, 290, 300, 300, 310, 320, 340, 360, 380, 410, 460, 520, 580, 660, 740, 820, 920, 1050, 1200,
    1350, 1500, 1650,
  ],
  b: [
    140, 140, 150, 150, 150, 160, 160, 170, 180, 190, 200, 220, 240, 260, 280, 310, 340, 380, 420, 480, 540, 600, 680,
    760, 840,
  ],
  c: [
    60, 70, 80, 95, 95, 110, 110, 120, 130, 140, 150, 170, 180, 200, 210, 230, 240, 260, 280, 300, 330, 360, 400, 440,
    480,
  ],
  d: [20, 30, 40, 50, 65, 80, 100, 120, 145, 170, 190, 210, 230],
  e: [14, 20, 25, 32, 40, 50, 60, 72, 85, 100, 110, 125, 135],
  f: [6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68],
  g: [2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20],
  h: [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
};

/** Lower deviation ei of shafts k (grades 4 to 7) to u, µm above nominal; NaN where the system has none. */
const ABOVE: Readonly<Record<string, Row>> = {
  k: [0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5],
  m: [2, 4, 6, 7, 8, 9, 11, 13, 15, 17, 20, 21, 23],
  n: [4, 8, 10, 12, 15, 17, 20, 23, 27, 31, 34, 37, 40],
  p: [6, 12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68],
  r: [10, 15, 19, 23, 23, 28, 28, 34, 34, 41, 43, 51, 54, 63, 65, 68, 77, 80, 84, 94, 98, 108, 114, 126, 132],
  s: [14, 19, 23, 28, 28, 35, 35, 43, 43, 53, 59, 71, 79, 92, 100, 108, 122, 130, 140, 158, 170, 190, 208, 232, 252],
  t: [
    NaN,
    NaN,
    NaN,
    NaN,
    NaN,
    NaN,
    41,
    48,
    54,
    66,
    75,
    91,
    104,
    122,
    134,
    146,
    166,
    180,
    196,
    218,
    240,
    268,
    294,
    330,
    360,
  ],
  u: [
    18, 23, 28, 33, 33, 41, 48, 60, 70, 87, 102, 124, 144, 170, 190, 210, 236, 258, 284, 315, 350, 390, 435, 490, 540,
  ],
};

/** Lower deviation ei of shafts j by grade, µm below nominal. */
const SHAFTS_J: Readonly<Record<number, Row>> = {
  5: [2, 2, 2, 3, 4, 5, 7, 9, 11, 13, 16, 18, 20],
  6: [2, 2, 2, 3, 4, 5, 7, 9, 11, 13, 16, 18, 20],
  7: [4, 4, 5, 6, 8, 10, 12, 15, 18, 21, 26, 28, 32],
};

/** Upper deviation ES of holes J by grade, µm above nominal. */
const HOLES_J: Readonly<Record<number, Row>> = {
  6: [2, 5, 5, 6, 8, 10, 13, 16, 18, 22, 25, 29, 33],
  7: [4, 6, 8, 10, 12, 14, 18, 22, 26, 30, 36, 39, 43],
  8: [6, 10, 12, 15, 20, 24, 28, 34, 41, 47, 55, 60, 66],
};

/**
 * Fundamental deviation of a shaft letter: the distance of the nearer limit from nominal, without a sign.
 *
 * @param side - below: a to h; above: k (grades 4 to 7) to u
 * @param letter - lower case
 * @returns µm >= 0, or null where the system has none
 * @throws CoreError not-finite, out-of-range for a size outside 0-500 mm
 * Source: ISO 286-1:2010, tables 4 and 5 (through free secondary tables)
 */
export function shaftDeviationUm(side: "below" | "above", letter: string, nominalMm: number): number | null {
  const table = side === "below" ? BELOW : ABOVE;
  return Object.hasOwn(table, letter) ? entryOf(table[letter]!, nominalMm, "shaftDeviationUm") : null;
}

/**
 * Nearer limit of shafts j (below nominal) and farther limit of holes J (above), which have numbers of their own by grade.
 *
 * @param grade - 5 to 7 for shafts, 6 to 8 for holes
 * @returns µm >= 0, or null for another grade
 * Source: ISO 286-1:2010, tables 4 and 2 (through free secondary tables)
 */
export function deviationOfJUm(kind: "shaft" | "hole", grade: number, nominalMm: number): number | null {
  const table = kind === "shaft" ? SHAFTS_J : HOLES_J;
  return Object.hasOwn(table, grade) ? entryOf(table[grade]!, nominalMm, "deviationOfJUm") : null;
}

function entryOf(row: Row, nominalMm: number, caller: string): number | null {
  requireNominal(nominalMm, caller);
  const step = STEPS_UP_TO.findIndex((upTo) => nominalMm <= upTo);
  const value = row.length === STEPS_UP_TO.length ? row[step]! : row[RANGE_OF_STEP[step]!]!;
  return Number.isNaN(value) ? null : value;
}
