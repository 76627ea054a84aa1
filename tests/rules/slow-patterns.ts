import { parseSync, traverse, types } from "@babel/core";
import { parseRegExpLiteral, type AST } from "@eslint-community/regexpp";
import type { SourceFile } from "./source-files";

/**
 * Finds patterns whose time grows faster than the text that they are given: a repetition inside a repetition, two repetitions
 * side by side that take the same characters, and one at the start of a pattern that may begin anywhere.
 */

type Pattern = { readonly source: string; readonly flags: string; readonly line: number };

/** A bounded repetition up to this costs a factor, no power, of the length. */
const FEW = 128;
/** Characters on which two repetitions are compared: all of Latin, and one each of what classes tell apart beyond it. */
const SAMPLE = [
  ...Array.from({ length: 0x180 }, (_, code) => String.fromCharCode(code)),
  ..."Жж漢٣\u2028\u00a0\ufeff€",
];

const isLong = (node: AST.Node): node is AST.Quantifier => node.type === "Quantifier" && node.max > FEW;

/** Characters of the sample that an element can take anywhere in it. */
function charactersOf(node: AST.Node, flags: string): ReadonlySet<string> {
  if (node.type === "Character" || node.type === "CharacterSet" || node.type === "CharacterClass") {
    const one = new RegExp(`^(?:${node.raw})$`, flags.replace(/[gy]/g, ""));
    return new Set(SAMPLE.filter((character) => one.test(character)));
  }
  if (node.type === "Quantifier") return charactersOf(node.element, flags);
  if (node.type === "CapturingGroup" || node.type === "Group")
    return new Set(node.alternatives.flatMap((one) => one.elements.flatMap((each) => [...charactersOf(each, flags)])));
  if (node.type === "Backreference") return new Set(SAMPLE);
  return new Set();
}

/** Characters that a repetition can begin with; all of it where that is not plain. */
function firstCharactersOf(node: AST.Quantifier, flags: string): ReadonlySet<string> {
  const alternatives = groupAlternatives(node.element);
  const first = alternatives.length === 1 ? flat(alternatives[0]?.elements ?? [])[0] : undefined;
  return charactersOf(first === undefined || mayBeEmpty(first) ? node : first, flags);
}

function mayBeEmpty(node: AST.Element): boolean {
  if (node.type === "Assertion") return true;
  if (node.type === "Quantifier") return node.min === 0 || mayBeEmpty(node.element);
  if (node.type === "CapturingGroup" || node.type === "Group")
    return node.alternatives.some((one) => one.elements.every(mayBeEmpty));
  return false;
}

const groupAlternatives = (node: AST.Node): readonly AST.Alternative[] =>
  node.type === "CapturingGroup" || node.type === "Group" || (node.type === "Assertion" && "alternatives" in node)
    ? node.alternatives
    : node.type === "Quantifier"
      ? groupAlternatives(node.element)
      : [];

function overlap(one: ReadonlySet<string>, other: ReadonlySet<string>): boolean {
  for (const character of one) if (other.has(character)) return true;
  return false;
}

/** The elements with those of plain groups in their place, so that what stands side by side is seen side by side. */
function flat(elements: readonly AST.Element[]): AST.Element[] {
  return elements.flatMap((node) =>
    (node.type === "Group" || node.type === "CapturingGroup") && node.alternatives.length === 1
      ? flat(node.alternatives[0]?.elements ?? [])
      : [node],
  );
}

/** Repeats that are told apart by a character which the inside cannot take: (?:a+,)* is as good as a list. */
function isSeparated(element: AST.Element, flags: string): boolean {
  const alternatives = groupAlternatives(element);
  if (alternatives.length !== 1) return false;
  const elements = flat(alternatives[0]?.elements ?? []);
  const ends = [elements[0], elements.at(-1)];
  return ends.some((end) => {
    if (end === undefined || isLong(end) || mayBeEmpty(end)) return false;
    const others = elements.filter((one) => one !== end).flatMap((one) => [...charactersOf(one, flags)]);
    return !overlap(charactersOf(end, flags), new Set(others));
  });
}

function problemsIn(elements: readonly AST.Element[], flags: string, begins: boolean): string[] {
  const problems: string[] = [];
  const list = flat(elements);
  list.forEach((node, at) => {
    for (const alternative of groupAlternatives(node)) {
      const inside = alternative.elements;
      if (isLong(node) && hasLong(inside) && !isSeparated(node.element, flags))
        problems.push(`a repetition inside a repetition: ${node.raw}`);
      problems.push(...problemsIn(inside, flags, begins && at === 0));
    }
    if (!isLong(node)) return;
    const own = charactersOf(node, flags);
    if (
      begins &&
      list.slice(0, at).every(mayBeEmpty) &&
      !list.slice(0, at).some((one) => isStart(one, flags, own)) &&
      at < list.length - 1
    )
      problems.push(`may begin anywhere and begins with a repetition: ${node.raw}`);
    for (const next of list.slice(at + 1)) {
      if (isLong(next) && overlap(own, firstCharactersOf(next, flags)))
        problems.push(`two repetitions of the same characters: ${node.raw} and ${next.raw}`);
      if (!mayBeEmpty(next) && !overlap(own, charactersOf(next, flags))) break;
    }
  });
  return problems;
}

/** Whether a pattern can go on from here at few places only; in a text of many lines not, where the repetition crosses them. */
const isStart = (node: AST.Element, flags: string, own: ReadonlySet<string>): boolean =>
  node.type === "Assertion" && node.kind === "start" && !(flags.includes("m") && own.has("\n"));

function hasLong(elements: readonly AST.Element[]): boolean {
  return elements.some(
    (node) => isLong(node) || groupAlternatives(node).some((alternative) => hasLong(alternative.elements)),
  );
}

/** What is slow in one pattern. */
export function slowParts(source: string, flags: string): string[] {
  const { pattern } = parseRegExpLiteral(new RegExp(source, flags));
  const sticky = flags.includes("y");
  return pattern.alternatives.flatMap((one) => problemsIn(one.elements, flags, !sticky));
}

function patternsIn(file: SourceFile): Pattern[] {
  const tree = parseSync(file.text, {
    filename: file.path,
    configFile: false,
    babelrc: false,
    parserOpts: { plugins: ["typescript", ...(file.path.endsWith(".tsx") ? (["jsx"] as const) : [])] },
  });
  if (tree === null) throw new Error(`${file.path} cannot be read`);
  const found: Pattern[] = [];
  traverse(tree, {
    RegExpLiteral({ node }) {
      found.push({ source: node.pattern, flags: node.flags, line: node.loc?.start.line ?? 0 });
    },
    "NewExpression|CallExpression"({ node }) {
      if (!types.isNewExpression(node) && !types.isCallExpression(node)) return;
      const [first, second] = node.arguments;
      if (!types.isIdentifier(node.callee, { name: "RegExp" }) || first === undefined) return;
      const line = node.loc?.start.line ?? 0;
      const flags = types.isStringLiteral(second) ? second.value : "";
      if (types.isStringLiteral(first)) found.push({ source: first.value, flags, line });
      // What is put together is read with its parts as single letters: their own repetitions stand where they are written.
      else if (types.isTemplateLiteral(first))
        found.push({ source: first.quasis.map(({ value }) => value.cooked ?? "").join("(?:\\0)"), flags, line });
      else if (!types.isRegExpLiteral(first)) found.push({ source: "(?:a+)+", flags: "", line });
    },
  });
  return found;
}

/** Slow patterns of some files, each with its place. */
export function slowPatterns(files: readonly SourceFile[]): string[] {
  return files.flatMap((file) =>
    /[/]|RegExp/.test(file.text)
      ? patternsIn(file).flatMap(({ source, flags, line }) =>
          slowParts(source, flags).map((problem) => `${file.path}:${line}: ${problem}`),
        )
      : [],
  );
}
