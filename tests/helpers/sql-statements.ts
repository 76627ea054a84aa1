import path from "node:path";
import { API, type Checker, type Project, type Symbol, TypeFlags, type Type } from "typescript/unstable/sync";
import {
  isArrayLiteralExpression,
  isArrowFunction,
  isAsExpression,
  isAwaitExpression,
  isBinaryExpression,
  isBindingElement,
  isBlock,
  isCallExpression,
  isConditionalExpression,
  isElementAccessExpression,
  isFunctionDeclaration,
  isFunctionExpression,
  isIdentifier,
  isMethodDeclaration,
  isNoSubstitutionTemplateLiteral,
  isObjectLiteralExpression,
  isParameterDeclaration,
  isParenthesizedExpression,
  isPropertyAccessExpression,
  isPropertyAssignment,
  isReturnStatement,
  isSatisfiesExpression,
  isShorthandPropertyAssignment,
  isSpreadAssignment,
  isStringLiteral,
  isTaggedTemplateExpression,
  isTemplateExpression,
  isVariableDeclaration,
  type CallExpression,
  type Expression,
  type Node,
  type TemplateLiteral,
} from "typescript/unstable/ast";
import { stateSelect } from "@/lib/server/journal/vouched-states";
import { sentColumns, sentInspections, sentNames } from "@/lib/server/db/columns/inspection";
import type { Statement } from "@/lib/server/db/sql";
import { COLUMN_READERS } from "@/tests/helpers/column-readers";
import { readSourceFiles, ROOT, type SourceFile } from "@/tests/rules/source-files";

/** What JavaScript holds: the kind of one value of a result. `any` is what a type leaves open, as that of json does. */
export type Kind = "string" | "number" | "boolean" | "bigint" | "date" | "bytes" | "json" | "any" | `${string}[]`;

export type WrittenColumn = {
  readonly name: string;
  readonly kinds: readonly Kind[];
  /** Kinds within an object or list, which json cannot hold: dates, bytes, bigint. */
  readonly inside: readonly string[];
  readonly optional: boolean;
  /** Its name and type come from the lists of lib/server/db/columns. */
  readonly isListed: boolean;
};

export type WrittenStatement = {
  /** File and line of the call. */
  readonly at: string;
  /** Every text that the code can make of it; empty where it is put together at run time. */
  readonly texts: readonly string[];
  /** The columns that the code says the result has; null where it says none. */
  readonly columns: readonly WrittenColumn[] | null;
};

/** Stands in a text for a bound value until all are numbered. */
const VALUE = "\u0001";
const number = (text: string): string => {
  let count = 0;
  return text.replaceAll(VALUE, () => `$${(count += 1)}`);
};

type Bound = ReadonlyMap<number, { readonly node: Node; readonly bound: Bound }>;
const NOTHING_BOUND: Bound = new Map();

/** What the readers of columns and of rows to insert make of their arguments, which are names in the sources. */
const MADE: Readonly<Record<string, (...given: readonly never[]) => string>> = {
  ...Object.fromEntries(
    Object.entries(COLUMN_READERS).map(([name, read]) => [
      name,
      (alias: string, names: never) => (read as (alias: string, names: never) => Statement)(alias, names).text,
    ]),
  ),
  sentInspections: () => sentInspections(() => null).strings.join(VALUE),
  stateSelect,
};

/** Constants that are made when their module is loaded. */
const MADE_ONCE: Readonly<Record<string, string>> = { sentNames: sentNames.text, sentColumns: sentColumns.text };

/** All ways to put one of each together. */
const combine = (parts: readonly (readonly string[])[]): string[] =>
  parts.reduce<string[]>((all, part) => all.flatMap((before) => part.map((text) => before + text)), [""]);

/** Not to be told from the sources. */
class Unread extends Error {}

/**
 * Reads the SQL of a call from the sources, without running them: tagged templates with the fragments woven into them,
 * constants, choices and functions that return statements.
 */
class StatementReader {
  constructor(
    private readonly project: Project,
    private readonly checker: Checker,
    private readonly files: readonly SourceFile[],
  ) {}

  /** @throws Unread */
  statement(node: Node, bound: Bound): string[] {
    if (isTaggedTemplateExpression(node)) return this.template(node.template, bound, (part) => this.woven(part, bound));
    if (isObjectLiteralExpression(node)) {
      for (const one of node.properties)
        if (isShorthandPropertyAssignment(one) && this.nameOf(one.name) === "text") return this.shorthand(one, bound);
      for (const one of node.properties)
        if (isPropertyAssignment(one) && this.nameOf(one.name) === "text") return this.string(one.initializer, bound);
      throw new Unread();
    }
    if (isStringLiteral(node) || isNoSubstitutionTemplateLiteral(node) || isTemplateExpression(node))
      return this.string(node, bound);
    return this.follow(node, bound, (inner, at) => this.statement(inner, at));
  }

  private shorthand(node: Node, bound: Bound): string[] {
    const symbol = this.checker.getShorthandAssignmentValueSymbol(node);
    const declaration = symbol?.valueDeclaration?.resolve(this.project);
    if (declaration === undefined || !isVariableDeclaration(declaration) || declaration.initializer === undefined)
      throw new Unread(node.getText());
    return this.string(declaration.initializer, bound);
  }

  /** A statement in a template is woven in, everything else becomes a bound value. */
  private woven(node: Expression, bound: Bound): string[] {
    const type = this.checker.getTypeAtLocation(node);
    const members = type === undefined ? [] : this.checker.getPropertiesOfType(type).map((one) => one.name);
    return members.includes("text") && members.includes("values") ? this.statement(node, bound) : [VALUE];
  }

  private string(node: Node, bound: Bound): string[] {
    if (isStringLiteral(node) || isNoSubstitutionTemplateLiteral(node)) return [node.text];
    if (isTemplateExpression(node)) return this.template(node, bound, (part) => this.string(part, bound));
    if (isBinaryExpression(node)) return combine([this.string(node.left, bound), this.string(node.right, bound)]);
    if (isPropertyAccessExpression(node) && node.name.text === "text") return this.statement(node.expression, bound);
    const literals = this.literals(node);
    return literals.length > 0 ? literals : this.follow(node, bound, (inner, at) => this.string(inner, at));
  }

  /** All texts that a type allows, such as the names of some tables; none where it allows any. */
  private literals(node: Node): string[] {
    const type = this.checker.getTypeAtLocation(node);
    const parts = type?.isUnionType() === true ? type.getTypes() : type === undefined ? [] : [type];
    const values = parts.flatMap((one) =>
      one.isStringLiteralType() || one.isNumberLiteralType() ? [String(one.value)] : [],
    );
    return values.length === parts.length ? values : [];
  }

  private template(node: TemplateLiteral, bound: Bound, part: (expression: Expression) => string[]): string[] {
    if (isNoSubstitutionTemplateLiteral(node)) return [node.text];
    const spans = node.templateSpans.flatMap((span) => [part(span.expression), [span.literal.text]]);
    return combine([[node.head.text], ...spans]);
  }

  /** Goes from an expression to those that can stand behind it, and reads each. */
  private follow(node: Node, bound: Bound, read: (node: Node, bound: Bound) => string[]): string[] {
    if (isParenthesizedExpression(node) || isAwaitExpression(node)) return read(node.expression, bound);
    if (isAsExpression(node) || isSatisfiesExpression(node)) return read(node.expression, bound);
    if (isConditionalExpression(node)) return [...read(node.whenTrue, bound), ...read(node.whenFalse, bound)];
    if (isCallExpression(node)) return this.called(node, bound, read);
    const made = isIdentifier(node) ? MADE_ONCE[node.text] : undefined;
    if (made !== undefined) return [made];
    const behind = this.behind(node, bound);
    if (behind.length === 0) throw new Unread(node.getText());
    return behind.flatMap((one) => read(one.node, one.bound));
  }

  private called(node: CallExpression, bound: Bound, read: (node: Node, bound: Bound) => string[]): string[] {
    if (isIdentifier(node.expression) && node.expression.text === "prepared") return read(at(node.arguments, 1), bound);
    const make = isIdentifier(node.expression) ? MADE[node.expression.text] : undefined;
    if (make !== undefined) return [make(...(node.arguments.map(literalOf) as never[]))];
    if (isIdentifier(node.expression) && node.expression.text === "together") {
      const lists = node.arguments.map((one) => read(one, bound));
      return combine(lists.flatMap((list, index) => (index === 0 ? [list] : [[", "], list])));
    }
    if (isIdentifier(node.expression) && node.expression.text === "constant")
      return this.string(at(node.arguments, 0), bound);
    return this.behind(node.expression, bound).flatMap(({ node: made, bound: outer }) => {
      if (
        !isFunctionDeclaration(made) &&
        !isArrowFunction(made) &&
        !isFunctionExpression(made) &&
        !isMethodDeclaration(made)
      )
        throw new Unread(node.getText());
      const inner = new Map(outer);
      made.parameters.forEach((parameter, index) => {
        const symbol = this.checker.getSymbolAtLocation(parameter.name);
        const given = node.arguments[index];
        if (symbol !== undefined && given !== undefined) inner.set(symbol.id, { node: given, bound });
      });
      if (made.body === undefined) throw new Unread(node.getText());
      if (!isBlock(made.body)) return read(made.body, inner);
      return returnsOf(made.body).flatMap((one) => read(one, inner));
    });
  }

  /** What a name or a member can stand for: the initializer, the function, the arguments of all calls in the file. */
  private behind(node: Node, bound: Bound): { readonly node: Node; readonly bound: Bound }[] {
    if (isPropertyAccessExpression(node) || isElementAccessExpression(node)) {
      const key = isPropertyAccessExpression(node) ? node.name.text : null;
      return this.behind(node.expression, bound).flatMap(({ node: holder, bound: inner }) =>
        this.members(holder, key, inner),
      );
    }
    if (isArrowFunction(node) || isFunctionExpression(node)) return [{ node, bound }];
    if (!isIdentifier(node)) throw new Unread(node.getText());
    const symbol = this.symbolOf(node);
    const given = symbol === undefined ? undefined : bound.get(symbol.id);
    if (given !== undefined) return [given];
    const declaration = (symbol?.valueDeclaration ?? symbol?.declarations[0])?.resolve(this.project);
    if (declaration === undefined) throw new Unread(node.getText());
    if (isVariableDeclaration(declaration) && declaration.initializer !== undefined)
      return [{ node: declaration.initializer, bound }];
    if (isFunctionDeclaration(declaration)) return [{ node: declaration, bound: NOTHING_BOUND }];
    if (isParameterDeclaration(declaration)) return this.givenBy(declaration);
    if (isBindingElement(declaration)) return this.taken(declaration, node.text, bound);
    throw new Unread(node.getText());
  }

  /** A name taken out of an object: const { read, write } = change. */
  private taken(element: Node, key: string, bound: Bound): { readonly node: Node; readonly bound: Bound }[] {
    const holder = element.parent.parent;
    if (!isVariableDeclaration(holder) || holder.initializer === undefined) throw new Unread(key);
    return this.behind(holder.initializer, bound).flatMap((one) => this.members(one.node, key, one.bound));
  }

  private members(holder: Node, key: string | null, bound: Bound): { readonly node: Node; readonly bound: Bound }[] {
    const object = isAsExpression(holder) || isSatisfiesExpression(holder) ? holder.expression : holder;
    if (!isObjectLiteralExpression(object)) {
      if (isIdentifier(object))
        return this.behind(object, bound).flatMap((one) => this.members(one.node, key, one.bound));
      throw new Unread(holder.getText());
    }
    return object.properties.flatMap((one): { readonly node: Node; readonly bound: Bound }[] => {
      if (isPropertyAssignment(one) && (key === null || this.nameOf(one.name) === key))
        return [{ node: one.initializer, bound }];
      if (isMethodDeclaration(one) && (key === null || this.nameOf(one.name) === key)) return [{ node: one, bound }];
      if (isSpreadAssignment(one)) throw new Unread(holder.getText());
      return [];
    });
  }

  /** What a parameter is given by those who call its function, in whatever file. */
  private givenBy(parameter: Node): { readonly node: Node; readonly bound: Bound }[] {
    const made = parameter.parent;
    if (!isFunctionDeclaration(made) || made.name === undefined) throw new Unread(parameter.getText());
    const index = made.parameters.findIndex((one) => one === parameter);
    const own = this.symbolOf(made.name);
    const found: { node: Node; bound: Bound }[] = [];
    const visit = (node: Node): void => {
      if (isCallExpression(node) && isIdentifier(node.expression) && this.symbolOf(node.expression)?.id === own?.id) {
        const given = node.arguments[index];
        if (given !== undefined) found.push({ node: given, bound: NOTHING_BOUND });
      }
      node.forEachChild(visit);
    };
    const name = made.name.getText();
    for (const { path: file } of this.files.filter(({ text }) => text.includes(`${name}(`))) {
      const source = this.project.program.getSourceFile(path.join(ROOT, file));
      if (source !== undefined) visit(source);
    }
    return found;
  }

  private symbolOf(node: Node): Symbol | undefined {
    const symbol = this.checker.getSymbolAtLocation(node);
    const isAlias =
      (symbol?.declarations[0]?.resolve(this.project)?.getText() ?? "").length > 0 &&
      symbol?.valueDeclaration === undefined;
    return symbol !== undefined && isAlias ? this.checker.getAliasedSymbol(symbol) : symbol;
  }

  private nameOf(name: Node): string {
    return isIdentifier(name) || isStringLiteral(name) ? name.text : "";
  }
}

function at<T>(list: readonly T[], index: number): T {
  const found = list[index];
  if (found === undefined) throw new Unread();
  return found;
}

function textOf(node: Node): string {
  if (!isStringLiteral(node)) throw new Unread(node.getText());
  return node.text;
}

/** Names as they stand in the sources; nothing for a function, which gives values and no text. @throws Unread */
function literalOf(node: Node): string | string[] | Record<string, string> | undefined {
  if (isArrowFunction(node)) return undefined;
  if (isArrayLiteralExpression(node)) return node.elements.map(textOf);
  if (!isObjectLiteralExpression(node)) return textOf(node);
  return Object.fromEntries(
    node.properties.map((one) => {
      if (!isPropertyAssignment(one)) throw new Unread(node.getText());
      return [one.name.getText(), textOf(one.initializer)];
    }),
  );
}

function returnsOf(body: Node): Expression[] {
  const found: Expression[] = [];
  const visit = (node: Node): void => {
    if (isArrowFunction(node) || isFunctionExpression(node) || isFunctionDeclaration(node)) return;
    if (isReturnStatement(node) && node.expression !== undefined) found.push(node.expression);
    node.forEachChild(visit);
  };
  body.forEachChild(visit);
  return found;
}

/** The kinds of value that a type allows, null left out: the types of results say it, the database does not. */
function kindsOf(checker: Checker, type: Type): Kind[] {
  if (type.isUnionType()) return [...new Set(type.getTypes().flatMap((one) => kindsOf(checker, one)))];
  const has = (flags: number): boolean => (type.flags & flags) !== 0;
  if (has(TypeFlags.Null | TypeFlags.Undefined)) return [];
  if (has(TypeFlags.StringLike)) return ["string"];
  if (has(TypeFlags.NumberLike)) return ["number"];
  if (has(TypeFlags.BigIntLike)) return ["bigint"];
  if (has(TypeFlags.BooleanLike)) return ["boolean"];
  if (has(TypeFlags.Any | TypeFlags.Unknown)) return ["any"];
  if (type.isIntersectionType()) {
    // A branded string or number.
    const base = type
      .getTypes()
      .flatMap((one) => kindsOf(checker, one))
      .filter((kind) => kind !== "json");
    return base.length > 0 ? [...new Set(base)] : ["json"];
  }
  const name = type.getSymbol()?.name;
  if (name === "Date") return ["date"];
  if (name === "Buffer" || name === "Uint8Array") return ["bytes"];
  if (checker.isArrayLikeType(type) && type.isTypeReference()) {
    const inner = checker.getTypeArguments(type).flatMap((one) => kindsOf(checker, one));
    return [`${[...new Set(inner)].join("|")}[]`];
  }
  return ["json"];
}

const DEEPEST = 6;

/** What json cannot hold and a type says is somewhere in it. */
function insideOf(checker: Checker, type: Type, depth = 0): string[] {
  if (depth > DEEPEST) return [];
  if (type.isUnionType()) return type.getTypes().flatMap((one) => insideOf(checker, one, depth));
  const kinds = kindsOf(checker, type);
  if (kinds.some((kind) => kind.endsWith("[]")) && type.isTypeReference())
    return checker.getTypeArguments(type).flatMap((one) => insideOf(checker, one, depth + 1));
  if (!kinds.includes("json")) return kinds.filter((kind) => ["date", "bytes", "bigint"].includes(kind));
  return checker.getPropertiesOfType(type).flatMap((property) => {
    const own = checker.getTypeOfSymbol(property);
    return own === undefined ? [] : insideOf(checker, own, depth + 1);
  });
}

/** A member stands in a list of columns, or is named where a list is read. */
function isListed(project: Project, member: Symbol): boolean {
  return member.declarations.some((declared) => {
    let node = declared.resolve(project);
    while (node !== undefined && !isCallExpression(node)) node = node.parent;
    if (node === undefined || !isIdentifier(node.expression)) return false;
    return node.expression.text === "columnsOf" || node.expression.text in COLUMN_READERS;
  });
}

function columnsOf(project: Project, checker: Checker, type: Type): WrittenColumn[] | null {
  if (checker.getIndexInfosOfType(type).length > 0) return null;
  return checker.getPropertiesOfType(type).map((property) => {
    const own = checker.getTypeOfSymbol(property);
    const isOptional =
      own?.isUnionType() === true && own.getTypes().some((one) => (one.flags & TypeFlags.Undefined) !== 0);
    return {
      name: property.name,
      kinds: own === undefined ? ["any"] : kindsOf(checker, own),
      inside: own === undefined ? [] : [...new Set(insideOf(checker, own))],
      optional: isOptional,
      isListed: isListed(project, property),
    };
  });
}

const isQuery = (node: Node): node is CallExpression =>
  isCallExpression(node) && isPropertyAccessExpression(node.expression) && node.expression.name.text === "query";

/** Every call of a database connection in lib and app, with what it sends and what it says comes back. */
export function readStatements(folders: readonly string[]): WrittenStatement[] {
  const api = new API({ cwd: ROOT });
  try {
    const snapshot = api.updateSnapshot({ openProjects: [path.join(ROOT, "tsconfig.json")] });
    const project = at(snapshot.getProjects(), 0);
    const { checker } = project;
    const sources = readSourceFiles(...folders);
    const reader = new StatementReader(project, checker, sources);
    const found: WrittenStatement[] = [];
    const files = sources.filter((file) => file.text.includes(".query"));
    for (const { path: name, text } of files) {
      const source = project.program.getSourceFile(path.join(ROOT, name));
      if (source === undefined) continue;
      const visit = (node: Node): void => {
        if (isQuery(node) && node.arguments.length > 0) {
          const line = text.slice(0, node.getStart()).split("\n").length;
          const said = node.typeArguments?.[0];
          const type = said === undefined ? undefined : checker.getTypeFromTypeNode(said);
          const columns = type === undefined ? null : columnsOf(project, checker, type);
          let texts: string[] = [];
          try {
            texts = [...new Set(reader.statement(at(node.arguments, 0), NOTHING_BOUND).map(number))];
          } catch (error) {
            if (!(error instanceof Unread)) throw error;
          }
          found.push({ at: `${name}:${line}`, texts, columns });
        }
        node.forEachChild(visit);
      };
      visit(source);
    }
    return found;
  } finally {
    api.close();
  }
}
