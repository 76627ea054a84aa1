import type { Separator } from "./csv-records";

const STARTS_A_FORMULA = /^[\s\u00a0]*[=+\-@\uff0b\uff0d\uff1d\uff20]|^[\t\r]/u;
const PLAIN_NUMBER = /^[+-]?\d+(?:[.,]\d+)?$/;
const MUST_BE_QUOTED = /[",;\t\r\n]/;
const GUARDED = /^'([\s\u00a0]*[=+\-@\uff0b\uff0d\uff1d\uff20]|[\t\r])/u;

/**
 * One cell of a CSV file: quoted where needed (RFC 4180), and never the start of a formula in a spreadsheet: text that would
 * start one gets an apostrophe in front. Plain numbers stay as they are.
 */
export function csvCell(text: string): string {
  const safe = STARTS_A_FORMULA.test(text) && !PLAIN_NUMBER.test(text) ? `'${text}` : text;
  return MUST_BE_QUOTED.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** One row of a CSV file without its line break. */
export function csvRow(cells: readonly string[], separator: Separator = ","): string {
  return cells.map(csvCell).join(separator);
}

/** Takes back the apostrophe that csvCell put in front, so that what was written reads as it was. */
export function unguardedText(text: string): string {
  return GUARDED.test(text) ? text.slice(1) : text;
}
