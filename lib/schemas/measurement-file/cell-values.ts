import { type BarPassage, parseClock, type PlugFeel } from "../../core/metrology/reading-name";
import type { Separator } from "./csv-records";

/** A cell that was understood, or the rule that it breaks with the likely slip. */
export type CellResult<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly rule: string; readonly hint: string | null };

const NUMBER = /^[+-]?\d+(?:\.\d+)?$/;
const NUMBER_WITH_COMMA = /^[+-]?\d+,\d+$/;
const LONGEST_NUMBER = 40;

function numberHint(text: string, separator: Separator): string | null {
  if (/^[+-]?\d+,\d+$/.test(text) && separator === ",")
    return "A decimal comma is possible only where the separator is a semicolon or a tab.";
  if (/^[+-]?\d{1,3}(?:[.,' \u00a0\u202f]\d{3})+(?:[.,]\d+)?$/.test(text)) return "Thousands signs are not allowed.";
  if (/^[+-]?\d+(?:[.,]\d+)?[eE][+-]?\d+$/.test(text)) return "Exponents are not allowed.";
  if (/^[+-]?\d+(?:[.,]\d+)?\s*(?:mm|um|µm|μm|m|in|"|°|deg|c)$/i.test(text))
    return "Units are not written into the cells: the column says the unit.";
  if (/^[+-]?(?:nan|inf|infinity|n\/?a|null|none|-+)$/i.test(text))
    return "Leave the cell empty where nothing was measured.";
  if (/^[\u2212\u2013\u2014]/.test(text)) return 'The sign must be the plain hyphen "-".';
  if (/^[+-]?(?:[.,]\d+|\d+[.,])$/.test(text)) return "Digits must stand before and after the decimal sign.";
  if (!/\d/.test(text)) return "Leave the cell empty where nothing could be measured.";
  if (/[oOlI]/.test(text)) return "A letter may stand where a digit was meant.";
  return null;
}

/**
 * A number as a measurement file may write it: optional sign, digits, one decimal point, or one decimal comma where the
 * separator is not a comma.
 */
export function parseNumberCell(text: string, separator: Separator): CellResult<number> {
  const fits = NUMBER.test(text) || (separator !== "," && NUMBER_WITH_COMMA.test(text));
  if (fits && text.length <= LONGEST_NUMBER) return { ok: true, value: Number(text.replace(",", ".")) };
  const decimals = separator === "," ? "one decimal point" : "one decimal point or comma";
  return {
    ok: false,
    rule: `a number must be an optional sign, digits and at most ${decimals}`,
    hint: numberHint(text, separator),
  };
}

/** The feel of a plain plug gauge. */
export function parsePlugCell(written: string): CellResult<PlugFeel> {
  const text = written.toLowerCase();
  if (text === "slides" || text === "hand" || text === "no") return { ok: true, value: text };
  return { ok: false, rule: "the feel of a plug gauge must be slides, hand or no", hint: null };
}

/** The passage of the gauge bar. */
export function parseBarCell(written: string): CellResult<BarPassage> {
  const text = written.toLowerCase();
  if (text === "free" || text === "no") return { ok: true, value: { result: text } };
  const stiff = /^stiff@(.+)$/.exec(text);
  const clockDeg = stiff ? parseClock(stiff[1] ?? "") : null;
  if (clockDeg !== null) return { ok: true, value: { result: "stiff", clockDeg } };
  return {
    ok: false,
    rule: "the passage of the bar must be free, stiff@CLOCK (a clock position from 1 to 12, :30 allowed) or no",
    hint: text === "stiff" ? "The clock position at which it is stiff is missing." : null,
  };
}

/** The temperature of the part, degrees Celsius. */
export function parseTemperatureCell(text: string, separator: Separator): CellResult<number> {
  const number = parseNumberCell(text, separator);
  if (!number.ok || (number.value >= -20 && number.value <= 60)) return number;
  return { ok: false, rule: "the temperature must lie between -20 and 60 degrees Celsius", hint: null };
}
