import type { ReadingName } from "../../core/metrology/reading-name";
import type { ShellDrawing } from "../../core/metrology/shell-drawing";
import type { ReadingColumn } from "./file-header";
import type { CellProblem, ReadingValue } from "./row-cells";

/** A size or width this many tolerance widths from nominal is a slip of the pen, not a shell. */
const TOLERANCE_WIDTHS = 20;
/** A bore this far from nominal, mm. */
const BORE_REACH_MM = 1;
/** A sweep reading this far from its sweep's median, µm. */
const SWEEP_REACH_UM = 500;

type Range = { readonly middle: number; readonly reach: number; readonly unit: "mm" | "µm"; readonly what: string };

function sizeRange(name: ReadingName, drawing: ShellDrawing): Range | null {
  if (name.kind === "bore") {
    return { middle: drawing.nominalBoreMm, reach: BORE_REACH_MM, unit: "mm", what: "the nominal bore" };
  }
  if (name.kind !== "width") return null;
  const limits = drawing.characteristics.find((characteristic) => characteristic.name === "width");
  if (!limits || limits.lower === null || limits.upper === null) return null;
  const reach = TOLERANCE_WIDTHS * (limits.upper - limits.lower);
  return { middle: drawing.widthMm, reach, unit: "mm", what: "the nominal width" };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  const upper = sorted[half] ?? 0;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? upper) + upper) / 2;
}

/** The readings that belong to one sweep share this key; null for readings of no sweep. */
function sweepKey(name: ReadingName): string | null {
  if (name.kind === "sweep") return `${name.seat}.sweep.${name.depthMm}`;
  return name.kind === "face" ? `${name.seat}.face` : null;
}

function neighboursSwapped(text: string): string[] {
  const swapped: string[] = [];
  for (let index = 0; index + 1 < text.length; index += 1) {
    const [left = "", right = ""] = [text[index], text[index + 1]];
    if (left === right || !/\d/.test(left)) continue;
    if (/\d/.test(right)) swapped.push(text.slice(0, index) + right + left + text.slice(index + 2));
    const beyond = text[index + 2] ?? "";
    if (right === "." && /\d/.test(beyond) && beyond !== left)
      swapped.push(`${text.slice(0, index)}${beyond}.${left}${text.slice(index + 3)}`);
  }
  return swapped;
}

function pointMoved(text: string): string[] {
  const sign = text.startsWith("-") ? "-" : "";
  const digits = text.replace(/^[+-]/, "").replace(".", "");
  const moved: string[] = [];
  for (let at = 1; at < digits.length; at += 1) moved.push(`${sign}${digits.slice(0, at)}.${digits.slice(at)}`);
  if (text.includes(".")) moved.push(sign + digits);
  return moved;
}

/**
 * The likely slip behind an implausible number: the decimal sign missing or in the wrong place, two digits swapped, the
 * sign turned, a digit too many.
 */
function likelySlip(value: number, range: Range): string | null {
  const text = String(value);
  const fits = (candidate: string) => Math.abs(Number(candidate) - range.middle) <= range.reach;
  const nearest = (candidates: readonly string[]) =>
    candidates
      .filter(fits)
      .sort((a, b) => Math.abs(Number(a) - range.middle) - Math.abs(Number(b) - range.middle))[0] ?? null;
  const moved = nearest(pointMoved(text));
  if (moved !== null) {
    const how = text.includes(".") ? "in the wrong place" : "missing";
    return `The decimal sign may be ${how}: ${moved} ${range.unit} would be plausible.`;
  }
  const swapped = nearest(neighboursSwapped(text));
  if (swapped !== null) return `Two digits may be swapped: ${swapped} ${range.unit} would be plausible.`;
  const turned = String(-value);
  return fits(turned) ? `The sign may be wrong: ${turned} ${range.unit} would be plausible.` : null;
}

function problemOf(column: string, value: number, range: Range): CellProblem {
  const distance = Number((value - range.middle).toPrecision(4));
  const reach = Number(range.reach.toPrecision(4));
  return {
    column,
    value: String(value),
    rule: `a reading must lie within ${reach} ${range.unit} of ${range.what}; this one is ${distance} ${range.unit} away`,
    hint: likelySlip(value, range),
  };
}

/**
 * Finds the readings of one inspection that cannot be true: a bore more than 1 mm from nominal, a width more than 20
 * tolerance widths, a sweep reading more than 500 µm from its sweep's median.
 *
 * @param columns - the readings' names
 * @param values - their values in the same order
 */
export function implausibleReadings(
  columns: readonly ReadingColumn[],
  values: readonly ReadingValue[],
  drawing: ShellDrawing,
): { readonly index: number; readonly problem: CellProblem }[] {
  const found: { index: number; problem: CellProblem }[] = [];
  const sweeps = new Map<string, number[]>();
  for (const [index, column] of columns.entries()) {
    const value = values[index];
    if (typeof value !== "number") continue;
    const key = sweepKey(column.name);
    if (key !== null) {
      const members = sweeps.get(key);
      if (members) members.push(index);
      else sweeps.set(key, [index]);
      continue;
    }
    const range = sizeRange(column.name, drawing);
    if (range && Math.abs(value - range.middle) > range.reach)
      found.push({ index, problem: problemOf(column.header, value, range) });
  }
  for (const members of sweeps.values()) {
    const numbers = members.map((index) => values[index]).filter((value) => typeof value === "number");
    const range: Range = { middle: median(numbers), reach: SWEEP_REACH_UM, unit: "µm", what: "its sweep's median" };
    for (const index of members) {
      const value = values[index];
      if (typeof value === "number" && Math.abs(value - range.middle) > range.reach)
        found.push({ index, problem: problemOf(columns[index]?.header ?? "", value, range) });
    }
  }
  return found;
}
