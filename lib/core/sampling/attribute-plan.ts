import { CoreError } from "../errors";
import {
  CODE_LETTERS,
  codeLetter,
  type InspectionLevel,
  planAlong,
  PREFERRED_AQLS,
  type Severity,
  sizeOfRow,
  tableCell,
} from "./attribute-tables";

/** Single sampling plan by attributes. */
export type AttributePlan = {
  /** Letter of lot and level. */
  readonly code: string;
  /** Letter of the plan that is used: another one where the cell holds an arrow. */
  readonly usedCode: string;
  /** Items to draw; the whole lot where the table's sample is as large or larger. */
  readonly n: number;
  readonly tableN: number;
  readonly ac: number;
  readonly re: number;
};

export type AttributeScheme = {
  readonly lot: number;
  readonly level: InspectionLevel;
  readonly aql: number;
  readonly severity: Severity;
};

/**
 * Single sampling plan for a lot by attributes.
 * @param lot - items, integer >= 2
 * @param aql - a preferred acceptance quality limit, percent nonconforming or nonconformities per 100 items
 * @returns plan; an arrow is followed to the first plan, with that plan's own sample size
 * @throws CoreError out-of-range for a lot below 2 or an AQL that is none of the preferred ones
 * Source: ISO 2859-1:1999 tables 1, 2-A, 2-B, 2-C
 */
export function attributePlan({ lot, level, aql, severity }: AttributeScheme): AttributePlan {
  const code = codeLetter(lot, level);
  const row = CODE_LETTERS.indexOf(code);
  const column = requirePreferredAql("attributePlan", aql);
  const cell = tableCell(severity, row, column);
  const used = typeof cell === "string" ? planAlong(severity, row, column, cell)! : row;
  const plan = tableCell(severity, used, column);
  if (typeof plan === "string") throw new Error(`attributePlan: no plan at ${code}, ${aql}`);
  const tableN = sizeOfRow(severity, used);
  return { code, usedCode: CODE_LETTERS[used]!, n: Math.min(tableN, lot), tableN, ...plan };
}

/** Column of a preferred AQL; CoreError out-of-range for another number. */
export function requirePreferredAql(name: string, aql: number): number {
  const column = PREFERRED_AQLS.findIndex((preferred) => preferred === aql);
  if (column < 0) throw new CoreError("out-of-range", `${name}: aql must be a preferred one; got ${aql}`);
  return column;
}
