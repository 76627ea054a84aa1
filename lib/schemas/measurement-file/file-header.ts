import { formatReadingName, parseReadingName, type ReadingName } from "../../core/metrology/reading-name";
import { SEPARATORS, type Separator } from "./csv-records";

/** The columns that are not readings; `gauge.KIND` says the gauge of one kind of reading. */
export const FIXED_COLUMNS = [
  "serial",
  "batch",
  "line",
  "drawing",
  "operation",
  "supplier",
  "mould",
  "tool",
  "fixture",
  "measured_at",
  "inspector",
  "gauge",
  "gauge.bore",
  "gauge.sweep",
  "gauge.face",
  "gauge.width",
  "gauge.plug",
  "gauge.bar",
  "temperature_c",
  "inspection",
] as const;

export type FixedColumn = (typeof FIXED_COLUMNS)[number];

/** A reading column: its spelling in the file, the one spelling of its name, and the name taken apart. */
export type ReadingColumn = { readonly header: string; readonly key: string; readonly name: ReadingName };

/** What a cell of a row means, cell by cell. */
export type ColumnMeaning =
  | { readonly kind: "fixed"; readonly column: FixedColumn }
  | { readonly kind: "reading"; readonly reading: ReadingColumn }
  | { readonly kind: "what" }
  | { readonly kind: "value" }
  | { readonly kind: "ignored" };

export type HeaderProblem = {
  readonly column: string | null;
  readonly value: string | null;
  readonly rule: string;
  readonly hint: string | null;
};

export type FileHeader = {
  readonly shape: "row per frame" | "row per reading";
  readonly cells: readonly string[];
  readonly columns: readonly ColumnMeaning[];
  readonly problems: readonly HeaderProblem[];
  readonly warnings: readonly string[];
};

/** Text that is meant as the name of a reading, whether or not it is well written. */
const LIKE_A_READING = /^(?:(?:n?ds)[ ._-]*(?:bore|sweep|face|plug)\b|width\s*@|bar\.)/i;

const NAMING_RULE =
  "a reading must be named as (ds|nds).bore.DEPTH@CLOCK-CLOCK, (ds|nds).sweep.DEPTH@DEGREES, (ds|nds).face@DEGREES, width@CLOCK, (ds|nds).plug.SIZE or bar.SET";

const fixedColumns = new Set<string>(FIXED_COLUMNS);

function isFixedColumn(text: string): text is FixedColumn {
  return fixedColumns.has(text);
}

/** A known name that a text differs from only by case, spaces or underscores. */
function nearlyKnown(text: string): string | null {
  const bare = (name: string) => name.toLowerCase().replaceAll(/[\s_-]/g, "");
  return [...FIXED_COLUMNS, "what", "value"].find((name) => bare(name) === bare(text)) ?? null;
}

/**
 * A column's name in the letters in which it is known: capitals stand for small ones, but for the name of a gauge set. Any
 * other text stays as it is.
 */
function properName(text: string): string {
  if (/^bar\./i.test(text)) return `bar.${text.slice(4)}`;
  const lower = text.toLowerCase();
  const isKnown = isFixedColumn(lower) || lower === "what" || lower === "value" || looksLikeReading(lower);
  return isKnown ? lower : text;
}

function readingNameHint(text: string): string | null {
  if (/\d,\d/.test(text)) return "The header always uses the decimal point.";
  if (/^width@/.test(text) && /^\d+(?:\.\d+)?$/.test(text.slice(6)))
    return "Widths are named by clock position, not by degrees.";
  const plain = text.replaceAll(" ", "");
  return plain !== text && parseReadingName(plain).ok ? `Write it as ${plain}.` : null;
}

/**
 * The name of a reading in a file, or the rule it breaks with the likely slip.
 */
export function parseReadingColumn(
  text: string,
): { ok: true; reading: ReadingColumn } | { ok: false; rule: string; hint: string | null } {
  const proper = properName(text);
  const name = parseReadingName(proper);
  if (name.ok) return { ok: true, reading: { header: text, key: formatReadingName(name.value), name: name.value } };
  const broken = name.reason.slice(proper.length + 4);
  const rule = broken === "not the name of a reading" ? NAMING_RULE : broken;
  return { ok: false, rule, hint: readingNameHint(proper) };
}

/** True where a text is meant as the name of a reading. */
export function looksLikeReading(text: string): boolean {
  return LIKE_A_READING.test(text);
}

/**
 * The separator of a file, from its first row: the one that gives the most known columns, then the most columns.
 *
 * @param firstRow - the text of the header row
 */
export function findSeparator(firstRow: string): Separator {
  let best: Separator = ",";
  let bestScore = -1;
  for (const separator of SEPARATORS) {
    const cells = firstRow.split(separator).map((cell) => properName(cell.trim().replaceAll('"', "")));
    const known = cells.filter(
      (cell) => isFixedColumn(cell) || cell === "what" || cell === "value" || looksLikeReading(cell),
    ).length;
    const score = known * 1000 + Math.min(cells.length, 999);
    if (score > bestScore) [best, bestScore] = [separator, score];
  }
  return best;
}

function meaningOf(cell: string, perReading: boolean): ColumnMeaning | HeaderProblem {
  const proper = properName(cell);
  if (isFixedColumn(proper)) return { kind: "fixed", column: proper };
  if (perReading && proper === "what") return { kind: "what" };
  if (perReading && proper === "value") return { kind: "value" };
  if (!looksLikeReading(cell)) return { kind: "ignored" };
  const parsed = parseReadingColumn(cell);
  if (!parsed.ok) return { column: cell, value: cell, rule: parsed.rule, hint: parsed.hint };
  if (perReading) {
    return {
      column: cell,
      value: cell,
      rule: "a file with one row per reading (columns what and value) must not have reading columns",
      hint: null,
    };
  }
  return { kind: "reading", reading: parsed.reading };
}

function unknownColumnWarning(cell: string, position: number): string {
  if (cell === "") return `Column ${position} has no name and is left out.`;
  const near = nearlyKnown(cell);
  return `Column "${cell}" is not known and is left out.${near ? ` Was "${near}" meant?` : ""}`;
}

/** Names in capitals are read, and said to have been: a name in a file that others write has to be the known one. */
function capitalsWarning(names: readonly string[], columns: readonly ColumnMeaning[]): string[] {
  const capital = names.filter((name, index) => columns[index]?.kind !== "ignored" && properName(name) !== name);
  const [first] = capital;
  if (first === undefined) return [];
  const more = capital.length === 1 ? "" : `, and ${capital.length - 1} more columns likewise`;
  return [`Column "${first}" was read as ${properName(first)}${more}: names are written in small letters.`];
}

/** The name by which two columns are the same column. */
function identityOf(meaning: ColumnMeaning): string | null {
  if (meaning.kind === "fixed") return meaning.column;
  if (meaning.kind === "reading") return meaning.reading.key;
  return meaning.kind === "ignored" ? null : meaning.kind;
}

function missingColumnProblems(columns: readonly ColumnMeaning[], cells: readonly string[]): HeaderProblem[] {
  const problems: HeaderProblem[] = [];
  if (!columns.some((meaning) => meaning.kind === "fixed" && meaning.column === "serial")) {
    const near = cells.find((cell) => nearlyKnown(cell) === "serial");
    const hint = near === undefined ? null : `The column "${near}" must be written serial.`;
    problems.push({ column: "serial", value: null, rule: "the column serial must be there", hint });
  }
  if (!columns.some((meaning) => meaning.kind === "reading" || meaning.kind === "what")) {
    problems.push({
      column: null,
      value: null,
      rule: "there must be at least one reading column, or the columns what and value",
      hint: null,
    });
  }
  return problems;
}

/**
 * Reads the header row and tells the two shapes apart: with the columns `what` and `value` there is one row per reading.
 *
 * @param cells - the cells of row 1
 * @returns the meaning of each column, with everything that is wrong with them
 */
export function readFileHeader(cells: readonly string[]): FileHeader {
  const names = cells.map((cell) => cell.trim());
  const known = new Set(names.map(properName));
  const perReading = known.has("what") && known.has("value");
  const problems: HeaderProblem[] = [];
  const warnings: string[] = [];
  const seen = new Map<string, string>();
  const written = new Set(names);
  const columns = names.map((name, index): ColumnMeaning => {
    const proper = properName(name);
    // "Batch" beside "batch" is another column, not the same one twice.
    const isOther = proper !== name && isFixedColumn(proper) && written.has(proper);
    const meaning = isOther ? ({ kind: "ignored" } as const) : meaningOf(name, perReading);
    if ("rule" in meaning) {
      problems.push(meaning);
      return { kind: "ignored" };
    }
    if (meaning.kind === "ignored") warnings.push(unknownColumnWarning(name, index + 1));
    const identity = identityOf(meaning);
    const earlier = identity === null ? undefined : seen.get(identity);
    if (earlier !== undefined) {
      const rule = earlier === name ? "a column must appear once" : `the column is the same as ${earlier}`;
      problems.push({ column: name, value: name, rule, hint: null });
    }
    if (identity !== null) seen.set(identity, name);
    return meaning;
  });
  problems.push(...missingColumnProblems(columns, names));
  warnings.push(...capitalsWarning(names, columns));
  return { shape: perReading ? "row per reading" : "row per frame", cells: names, columns, problems, warnings };
}
