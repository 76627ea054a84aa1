import type { CharacteristicUnit } from "../core/metrology/shell-drawing";
import type { Seat } from "../core/metrology/reading-name";
import { formatFixed, SHOWN_DECIMALS } from "./number-text";

const UNIT_WORD = { mm: "mm", µm: "µm", arcmin: "arc minutes" } as const satisfies Record<CharacteristicUnit, string>;

/** A number with its unit as the sentences of decisions say it: mm to 0.001, µm and arc minutes to 0.1. */
export function valueText(value: number, unit: CharacteristicUnit): string {
  return `${numberText(value, unit)} ${UNIT_WORD[unit]}`;
}

/** An expanded uncertainty with its unit: one decimal more than a size, since it is a small part of one. */
export function uncertaintyText(value: number, unit: CharacteristicUnit): string {
  return `U ${formatFixed(value, unit === "mm" ? 4 : 1)} ${UNIT_WORD[unit]}`;
}

/** The number alone, in as many decimals as everywhere. */
export function numberText(value: number, unit: CharacteristicUnit): string {
  return formatFixed(value, SHOWN_DECIMALS[unit]);
}

/** The limits in words: "limits 40.950 to 41.000 mm", "limit 40.0 µm". */
export function limitsText(lower: number | null, upper: number | null, unit: CharacteristicUnit): string {
  if (lower !== null && upper !== null) return `limits ${numberText(lower, unit)} to ${valueText(upper, unit)}`;
  if (upper !== null) return `limit ${valueText(upper, unit)}`;
  return lower !== null ? `least ${valueText(lower, unit)}` : "no limit";
}

/** "DS seat" or "NDS seat"; nothing for what belongs to neither. */
export function seatText(seat: Seat | null): string {
  if (seat === null) return "";
  return seat === "ds" ? " of the DS seat" : " of the NDS seat";
}

/** Some serials by name, the rest by number: "A, B and 3 more". */
export function serialsText(serials: readonly string[], named = 5): string {
  if (serials.length <= named) return serials.join(", ");
  return `${serials.slice(0, named).join(", ")} and ${serials.length - named} more`;
}

/** A count with its noun. */
export function countText(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}
