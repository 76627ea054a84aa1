/** Between the cells of a row. */
export type CsvSeparator = "," | ";" | "\t";

const FORMULA_SIGNS = new Set("=+-@\uff0b\uff0d\uff1d\uff20");
/** After these a program that takes another separator, or reads the quotes otherwise, begins a cell. */
const CELL_BREAKS = new Set(",;|\t\r\n");
const BLANKS = new Set(' "\u00a0\u2007\u202f\u3000\v\f');
const PLAIN_NUMBER = /^[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?$/;
const MUST_BE_QUOTED = /[",;|\t\r\n]/;

/** Where the cell that begins here would end for a program that takes each of CELL_BREAKS for a separator. */
function endOfCell(text: string, from: number): number {
  let at = from;
  while (at < text.length && !CELL_BREAKS.has(text.charAt(at))) at += 1;
  return at;
}

function endOf(text: string, from: number, signs: ReadonlySet<string>): number {
  let at = from;
  while (at < text.length && signs.has(text.charAt(at))) at += 1;
  return at;
}

const APOSTROPHES = new Set("'");

/**
 * Places in a text at which a spreadsheet could begin to read a formula: at its begin, and after whatever some program takes
 * for the begin of a cell. `from` is the first apostrophe there, if any; `sign` what follows the apostrophes.
 */
function* formulaPlaces(text: string): Generator<{ readonly from: number; readonly sign: number }> {
  let at = 0;
  while (at < text.length) {
    const sign = endOf(text, at, APOSTROPHES);
    const first = endOf(text, sign, BLANKS);
    const found = text.charAt(first);
    if (FORMULA_SIGNS.has(found) || (at === 0 && (found === "\t" || found === "\r"))) yield { from: at, sign };
    at = first;
    while (at < text.length && !CELL_BREAKS.has(text.charAt(at)) && text.charAt(at) !== '"') at += 1;
    at += 1;
  }
}

/** Text that no spreadsheet takes for a formula: an apostrophe stands before each sign that would start one. Plain numbers stay. */
function guardedText(text: string): string {
  if (PLAIN_NUMBER.test(text)) return text;
  let guarded = "";
  let done = 0;
  for (const { from, sign } of formulaPlaces(text)) {
    // A number among others within a text is none the less a number.
    if (from > 0 && from === sign && PLAIN_NUMBER.test(text.slice(from, endOfCell(text, from)).trim())) continue;
    guarded += `${text.slice(done, from)}'`;
    done = from;
  }
  return guarded + text.slice(done);
}

/**
 * One cell of a CSV file: quoted where needed (RFC 4180), and never the start of a formula in a spreadsheet, neither by itself
 * nor cut at a sign that another program takes for a separator. Plain numbers stay numbers.
 */
export function csvCell(value: string | number): string {
  const safe = typeof value === "number" ? String(value) : guardedText(value);
  return MUST_BE_QUOTED.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** One row of a CSV file without its line break. Every CSV that Shellgate writes is written by it. */
export function csvRow(cells: readonly (string | number)[], separator: CsvSeparator = ","): string {
  return cells.map(csvCell).join(separator);
}

/** A table as CSV, a line for its columns first. */
export function csvTable(columns: readonly string[], rows: readonly (readonly (string | number)[])[]): string {
  return [columns, ...rows].map((row) => `${csvRow(row)}\r\n`).join("");
}

/** Takes back the apostrophes that csvCell put in, so that what was written reads as it was. */
export function unguardedText(text: string): string {
  if (!text.includes("'")) return text;
  let plain = "";
  let done = 0;
  for (const { from, sign } of formulaPlaces(text)) {
    if (sign === from) continue;
    plain += text.slice(done, from);
    done = from + 1;
  }
  return plain + text.slice(done);
}
