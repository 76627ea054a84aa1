import "server-only";
import { constant, type Statement } from "../sql";

/** A column of a table: its SQL type, whether it may be null, and, in the type only, what the driver makes of it. */
export type Column<Value> = { readonly type: string; readonly isNullable: boolean; readonly value?: Value };

function column<Value>(type: string, isNullable = false): Column<Value> {
  return { type, isNullable };
}

export const uuid = column<string>("uuid");
export const uuids = column<readonly string[]>("uuid[]");
export const text = column<string>("text");
export const texts = column<readonly string[]>("text[]");
export const bool = column<boolean>("bool");
export const int2 = column<number>("int2");
export const int4 = column<number>("int4");
/** The driver gives it as text: a number could not hold it. */
export const int8 = column<string>("int8");
export const float8 = column<number>("float8");
export const instant = column<Date>("timestamptz");
export const bytea = column<Buffer>("bytea");

/** A text that has only some values. */
export function word<Value extends string>(): Column<Value> {
  return column("text");
}

/** A type of the database's own; it is selected as text, which the driver can put into lists. */
export function enumerated<Value extends string>(name: string): Column<Value> {
  return column(`"${name}"`);
}

export function jsonb<Value>(): Column<Value> {
  return column("jsonb");
}

/** Of int2, int4 or float8, whose elements may be null where the code says so. */
export function list<Value>(of: Column<unknown>): Column<readonly Value[]> {
  return column(`${of.type}[]`);
}

export function nullable<Value>(of: Column<Value>): Column<Value | null> {
  return column(of.type, true);
}

/** State of a revision of a drawing or plan. */
export type RevisionState = "draft" | "released" | "superseded";

/** The columns of a table by the names that the code gives them; the database's names are the same in snake case. */
type Table = Readonly<Record<string, Column<unknown>>>;

/** A whole row of a table as the driver gives it. */
type Row<Of extends Table> = { readonly [Name in keyof Of]: Of[Name] extends Column<infer Value> ? Value : never };

/** Some columns of a table in a statement, with the type of what the driver makes of them. Its row is in the type only. */
export type Columns<Selected> = Statement & { readonly strings: readonly string[]; readonly row?: Selected };

/** What a list of columns gives a row. */
export type RowOf<List extends Columns<unknown>> = NonNullable<List["row"]>;

/** The database's name of a column. */
export function columnName(name: string): string {
  return name.replaceAll(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
}

/** One column as it is selected. */
function selected(alias: string, name: string, given: string, type: string): string {
  const read = `${alias}.${columnName(name)}${type.startsWith('"') ? "::text" : ""}`;
  return read === `${alias}.${given}` ? read : `${read} as "${given}"`;
}

export type ColumnsReader<Of extends Table> = {
  readonly table: string;
  readonly columns: Of;
  /** Columns under their own names. */
  <const Name extends keyof Of & string>(alias: string, names: readonly Name[]): Columns<Pick<Row<Of>, Name>>;
  /** Columns under the names that a statement gives them: { batchId: "id" }. */
  <const Names extends Readonly<Record<string, keyof Of & string>>>(
    alias: string,
    names: Names,
  ): Columns<{ readonly [Given in keyof Names]: Row<Of>[Names[Given]] }>;
};

/**
 * A reader of a table's columns for select lists. The text is made of the lists in this folder and of names in the sources alone,
 * so that a prepared statement stays the same; make it once, beside the statement, and take the statement's row type from it.
 *
 * @example
 * const listed = together(inspectionColumns("i", ["id", "measuredAt"]), batchColumns("b", { batch: "key" }));
 * db.query<RowOf<typeof listed>>(sql`select ${listed} from inspection i join batch b on ...`)
 */
export function columnsOf<const Of extends Table>(table: string, columns: Of): ColumnsReader<Of> {
  const read = (alias: string, names: readonly string[] | Readonly<Record<string, string>>): Columns<never> => {
    const pairs = Array.isArray(names) ? names.map((name: string) => [name, name] as const) : Object.entries(names);
    return constant(pairs.map(([given, name]) => selected(alias, name, given, columns[name]?.type ?? "")).join(", "));
  };
  return Object.assign(read, { table, columns });
}

/** Columns of a table that is joined where it may have no row. */
export function orNull<Selected>(
  columns: Columns<Selected>,
): Columns<{ readonly [Name in keyof Selected]: Selected[Name] | null }> {
  return columns as Statement & { readonly strings: readonly string[] };
}

type Merged<Lists extends readonly unknown[]> = Lists extends readonly [Columns<infer First>, ...infer Others]
  ? First & Merged<Others>
  : unknown;

/** The columns of several tables that a statement joins, in one list. */
export function together<const Lists extends readonly Columns<unknown>[]>(...lists: Lists): Columns<Merged<Lists>> {
  return constant(lists.map((one) => one.text).join(", "));
}
