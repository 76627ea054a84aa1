import "server-only";
import { constant, type Statement } from "../sql";

/** SQL types by the names that the code gives to the columns; the database's names are the same in snake case. */
export type SqlTypes<Row> = { readonly [Name in keyof Row]: string };

/** Some columns of a table in a statement, with the type of what the driver makes of them. Its row is in the type only. */
export type Columns<Row> = Statement & { readonly strings: readonly string[]; readonly row?: Row };

/** What a list of columns gives a row. */
export type RowOf<List extends Columns<unknown>> = NonNullable<List["row"]>;

/** The database's name of a column. */
export function columnName(name: string): string {
  return name.replaceAll(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
}

/** One column as it is selected; an enum as text, which the driver can put into lists. */
function selected(alias: string, name: string, type: string): string {
  const column = `${alias}.${columnName(name)}${type.startsWith('"') ? "::text" : ""}`;
  return column === `${alias}.${name}` ? column : `${column} as "${name}"`;
}

/**
 * A reader of a table's columns for select lists. The text is made of the lists in this folder and of names in the sources alone,
 * so that a prepared statement stays the same; make it once, beside the statement, and take the statement's row type from it.
 *
 * @example
 * const listed = inspectionColumns("i", ["id", "measuredAt"]);
 * db.query<RowOf<typeof listed>>(sql`select ${listed} from inspection i`)
 */
export function columnsOf<Row>(types: SqlTypes<Row>) {
  return <const Name extends keyof Row & string>(alias: string, names: readonly Name[]): Columns<Pick<Row, Name>> =>
    constant(names.map((name) => selected(alias, name, types[name])).join(", "));
}
