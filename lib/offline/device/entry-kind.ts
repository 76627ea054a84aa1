import { parseDecimal } from "@/lib/format/parse-decimal";

/** What this device knows by name, to tell scans apart from readings. */
export type KnownCodes = {
  readonly serials: ReadonlyMap<string, string>;
  readonly batches: ReadonlySet<string>;
  readonly badges: ReadonlyMap<string, string>;
};

export type EntryKind =
  | { readonly kind: "reading"; readonly text: string }
  | { readonly kind: "serial"; readonly serial: string; readonly batch: string | null }
  | { readonly kind: "batch"; readonly batch: string }
  | { readonly kind: "badge"; readonly code: string; readonly name: string };

/** A code as scanners send it has no spaces and no control characters around it. */
function cleaned(text: string): string {
  return text.replace(/[\u0000-\u001f\u007f]/g, "").trim();
}

/** The known code that was typed by hand in other capitals; as typed where there is none, or more than one. */
function asKnown(code: string, { serials, batches, badges }: KnownCodes): string {
  if (serials.has(code) || batches.has(code) || badges.has(code)) return code;
  const lower = code.toLowerCase();
  const alike = [...serials.keys(), ...batches, ...badges.keys()].filter((one) => one.toLowerCase() === lower);
  return alike.length === 1 ? (alike[0] ?? code) : code;
}

const SERIAL_LIKE = /^(?=.*[A-Za-z])[A-Za-z0-9][A-Za-z0-9._/-]{2,63}$/;

/**
 * Tells what was typed, gauged or scanned before Enter: a reading, a frame's serial, a batch or a badge. Fingers, gauges and
 * scanners come through the same keys, so only the content decides: a number that could be the reading asked for is a
 * reading, a known code is that code, and other text with letters is taken for a serial that is not known here.
 *
 * @param text - everything before Enter or Tab
 * @param couldBeReading - whether a number would be a plausible value of the reading asked for; null where none is asked
 */
export function entryKind(
  text: string,
  known: KnownCodes,
  couldBeReading: ((value: number) => boolean) | null,
): EntryKind {
  const keyed = cleaned(text);
  const number = parseDecimal(keyed);
  if (number.ok && couldBeReading?.(number.value)) return { kind: "reading", text: keyed };
  const code = asKnown(keyed, known);
  const batch = known.serials.get(code);
  if (batch !== undefined) return { kind: "serial", serial: code, batch };
  if (known.batches.has(code)) return { kind: "batch", batch: code };
  const name = known.badges.get(code);
  if (name !== undefined) return { kind: "badge", code, name };
  if (couldBeReading === null) return { kind: "serial", serial: code, batch: null };
  return SERIAL_LIKE.test(code) && !/^[\d.,\s+-]*(mm|µm|um)$/i.test(code)
    ? { kind: "serial", serial: code, batch: null }
    : { kind: "reading", text: code };
}
