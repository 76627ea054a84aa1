export type DecimalRefusal = "empty" | "unfinished" | "two signs" | "not a number" | "too long";

export type ParsedDecimal =
  | { readonly ok: true; readonly value: number; readonly decimals: number; readonly signed: boolean }
  | { readonly ok: false; readonly refusal: DecimalRefusal; readonly message: string };

const LONGEST = 20;
const MESSAGES: Readonly<Record<DecimalRefusal, string>> = {
  empty: "Key a number.",
  unfinished: "The number is not finished: digits are missing.",
  "two signs": "There is more than one decimal sign. Write the number without thousands signs, as 40.968 or 40,968.",
  "not a number": "This is not a number. Digits, one decimal sign (, or .) and a sign in front are taken.",
  "too long": `A reading has at most ${LONGEST} characters. Was a code scanned into this field?`,
};

function refuse(refusal: DecimalRefusal): ParsedDecimal {
  return { ok: false, refusal, message: MESSAGES[refusal] };
}

/**
 * Reads a number as a person or a gauge writes it: `,` and `.` are both decimal signs, a sign may stand in front (also the
 * typographic minus), spaces around are ignored. Thousands signs, exponents, hexadecimal and words are refused, since a
 * misread size is worse than a question.
 *
 * @param text - what was keyed or sent
 * @param unit - a unit that may follow the number, as gauges send it ("mm"); any other trailing text is refused
 * @returns the number and how many decimals it had, or why not
 */
export function parseDecimal(text: string, unit?: string): ParsedDecimal {
  let rest = text.trim();
  if (unit && rest.toLowerCase().endsWith(unit.toLowerCase())) rest = rest.slice(0, -unit.length).trimEnd();
  if (rest === "") return refuse("empty");
  if (rest.length > LONGEST) return refuse("too long");
  const sign = /^[+\-\u2212]/.exec(rest)?.[0];
  const body = sign ? rest.slice(1).trimStart() : rest;
  if (/^[\d.,]*$/.test(body) && (body.match(/[.,]/g) ?? []).length > 1) return refuse("two signs");
  if (body === "" || body === "." || body === "," || /^\d+[.,]$/.test(body)) return refuse("unfinished");
  const match = /^(\d*)(?:[.,](\d*))?$/.exec(body);
  if (!match) return refuse("not a number");
  const decimals = /[.,]/.test(body) ? (match[2] ?? "").length : 0;
  const magnitude = Number(body.replace(",", "."));
  const value = sign !== undefined && sign !== "+" && magnitude !== 0 ? -magnitude : magnitude;
  return { ok: true, value, decimals, signed: sign !== undefined };
}

/**
 * The size that was probably meant when the decimal sign is missing: 4098 near 41 -> 40.98.
 *
 * @param text - what was keyed
 * @param nominal - the size expected there
 * @param within - how far from the nominal a size may lie to be offered, same unit
 * @returns the one number with a decimal sign put in that lies there, or null: nothing to offer, or the text has a sign
 */
export function withDecimalSign(text: string, nominal: number, within: number): number | null {
  const digits = text.trim();
  if (!/^\d{2,9}$/.test(digits) || Math.abs(Number(digits) - nominal) <= within) return null;
  for (let at = 1; at < digits.length; at += 1) {
    const candidate = Number(`${digits.slice(0, at)}.${digits.slice(at)}`);
    if (Math.abs(candidate - nominal) <= within) return candidate;
  }
  return null;
}
