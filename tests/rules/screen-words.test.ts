import { parseSync, traverse, types, type NodePath } from "@babel/core";
import { describe, expect, it } from "vitest";
import { CHARACTERISTIC_NAMES } from "@/lib/core/metrology/shell-drawing";
import { VERDICTS } from "@/lib/quality/verdict-words";
import { readSourceFiles, type SourceFile } from "./source-files";

/** Areas whose texts stand in their words, and nowhere else. */
const AREAS = [
  "app/_components",
  "app/drift",
  "app/frames",
  "app/gate",
  "app/gauges",
  "app/line",
  "app/messages",
  "app/new-plant",
  "app/search",
  "app/setup",
  "app/sign-in",
  "lib/ui",
];

/** Files of texts: `words.tsx` of an area, or a file of its folder `words`, and those that say codes in words. */
const WORD_FILES = /(?:^|[/-])words\.tsx?$|\/words\/[^/]+\.tsx?$/;

/** Attributes of elements and properties of objects that a person reads. */
const READ = new Set([
  ...["aria-label", "title", "placeholder", "alt", "label", "lead", "caption", "hint", "submit", "done", "detail"],
  ...["word", "heading", "description", "aside", "busy", "refused", "note"],
]);
/** Attributes and properties that only programs read, also where they have a space. */
const CODED = new Set([
  ...[
    "className",
    "href",
    "key",
    "id",
    "name",
    "type",
    "kind",
    "state",
    "mark",
    "role",
    "method",
    "rel",
    "d",
    "viewBox",
  ],
  ...["transform", "aria-labelledby", "aria-describedby", "autoComplete", "verdict", "sizes", "gridTemplateColumns"],
]);
/** Codes that have a space: lib/format and the screens say them. */
const CODES = new Set<string>([
  ...[...VERDICTS, ...CHARACTERISTIC_NAMES, "on device", "in measurement", "in rework", "on concession", "to come"],
  ...["functional size", "gauge bar", "compound ds", "compound nds", "zero …", "sweep …", "sweep … …", "own: …"],
  ...["mail at once", "mail shift start", "shift start", "at once", "reamer changed"],
]);
/** Fonts, questions to the style sheet, selectors and cookies. */
const FOR_BROWSERS = /\dpx |…px |^\([a-z-]+: |^input[,:]|; path=|^text\/csv|^attachment;/;

const LETTER = /\p{L}/u;
/** A word beside a space: a sentence, or a piece of one. */
const SENTENCE = /\p{L}{2,}[,;:.]? | \p{L}{2,}/u;

type Reader = "person" | "program" | "unknown";

/** Who reads a string, from where it stands. */
function readerOf(path: NodePath): Reader {
  const { node, parentPath } = path;
  const parent = parentPath?.node;
  if (parent === undefined || parentPath === null) return "unknown";
  if (types.isTSType(parent) || types.isImportDeclaration(parent) || types.isExportDeclaration(parent))
    return "program";
  if (types.isBinaryExpression(parent) && parent.operator !== "+") return "program";
  if (types.isSwitchCase(parent) || types.isTaggedTemplateExpression(parent)) return "program";
  if (types.isMemberExpression(parent)) return "program";
  if (types.isNewExpression(parent) && !types.isIdentifier(parent.callee, { name: "AppError" })) return "program";
  if (types.isCallExpression(parent) && types.isMemberExpression(parent.callee)) return "program";
  if (types.isJSXAttribute(parent)) {
    const name = String(parent.name.name);
    return READ.has(name) ? "person" : CODED.has(name) ? "program" : "unknown";
  }
  if (types.isObjectProperty(parent)) {
    if (parent.key === node) return "program";
    const name = types.isIdentifier(parent.key) ? parent.key.name : "";
    return READ.has(name) ? "person" : CODED.has(name) ? "program" : "unknown";
  }
  if (types.isJSXExpressionContainer(parent))
    return types.isJSXAttribute(parentPath.parent) ? readerOf(parentPath) : "person";
  const isTest = types.isConditionalExpression(parent) && parent.test === node;
  const passes =
    types.isConditionalExpression(parent) ||
    types.isLogicalExpression(parent) ||
    types.isTemplateLiteral(parent) ||
    types.isTSAsExpression(parent) ||
    types.isTSSatisfiesExpression(parent) ||
    types.isBinaryExpression(parent);
  return passes && !isTest ? readerOf(parentPath) : "unknown";
}

function treeOf(file: SourceFile) {
  const tree = parseSync(file.text, {
    filename: file.path,
    configFile: false,
    babelrc: false,
    parserOpts: { plugins: ["typescript", ...(file.path.endsWith(".tsx") ? (["jsx"] as const) : [])] },
  });
  if (tree === null) throw new Error(`${file.path} cannot be read`);
  return tree;
}

/** Texts for people that stand in a component or beside one. */
function textsIn(file: SourceFile): string[] {
  if (WORD_FILES.test(file.path)) return [];
  const found: string[] = [];
  const look = (path: NodePath, text: string): void => {
    const reader = readerOf(path);
    if (reader === "program" || FOR_BROWSERS.test(text) || (CODES.has(text) && reader !== "person")) return;
    if (reader === "person" ? LETTER.test(text) : SENTENCE.test(text))
      found.push(`${file.path}:${path.node.loc?.start.line ?? 0}: ${text.trim()}`);
  };
  traverse(treeOf(file), {
    JSXText(path) {
      if (LETTER.test(path.node.value))
        found.push(`${file.path}:${path.node.loc?.start.line ?? 0}: ${path.node.value.trim()}`);
    },
    StringLiteral(path) {
      look(path, path.node.value);
    },
    TemplateLiteral(path) {
      const text = path.node.quasis.map(({ value }) => value.cooked ?? "").join("…");
      // A path of the application or a class name is no text.
      if (!/^[/?#]|^…[ -]?\w*$/.test(text)) look(path, text);
    },
  });
  return found;
}

/** Rooms of the server whose texts stand in their words; in the others an error still has them beside it. */
const ROOMS = [
  ...[
    "analysis",
    "attachments",
    "audit",
    "auth",
    "base",
    "batches",
    "compute",
    "doors",
    "drawings",
    "evidence",
    "frames",
  ],
  ...["geometry", "inspections", "jobs", "line", "messages", "people", "plans", "plant", "shipments", "tokens"],
];

/** Texts that stand where an AppError is made. */
function errorTextsIn(file: SourceFile): string[] {
  if (WORD_FILES.test(file.path) || !file.text.includes("AppError")) return [];
  const found: string[] = [];
  traverse(treeOf(file), {
    NewExpression(path) {
      if (!types.isIdentifier(path.node.callee, { name: "AppError" })) return;
      const said = path.node.arguments[1];
      const text = types.isStringLiteral(said)
        ? said.value
        : types.isTemplateLiteral(said)
          ? said.quasis.map(({ value }) => value.cooked ?? "").join("…")
          : "";
      if (SENTENCE.test(text)) found.push(`${file.path}:${said?.loc?.start.line ?? 0}: ${text}`);
    },
  });
  return found;
}

/** What screens said before, and a newcomer stumbled over: the word that took its place is in the fixed words of the product. */
const GIVEN_UP =
  /\b(?:key(?:ed)? anew|rub(?:bed)? out|held by itself|not told from a steady|a false alarm is a cause|not told: |within 0 frames|no end in sight|proven by U\b|no reason to hold by policy|needs an end\b|not on bad evidence|grows outwards|leans out of the sheet|skip, why|kept here, nothing waits|answers? go when|never signs|does a cut end show)/i;
const COMMENTS = /\/\*[\s\S]*?\*\/|(?<=^|\s)\/\/[^\n]*/g;

const givenUpWords = (files: readonly SourceFile[]): string[] =>
  files.flatMap(({ path, text }) => {
    const found = GIVEN_UP.exec(text.replace(COMMENTS, ""))?.[0];
    return found === undefined ? [] : [`${path}: ${found}`];
  });

describe("what a person reads on a screen", () => {
  it("stands in the words of its area", () => {
    const files = readSourceFiles(...AREAS);
    expect(files.filter(({ path }) => WORD_FILES.test(path)).length).toBeGreaterThanOrEqual(AREAS.length);
    expect(files.flatMap(textsIn)).toEqual([]);
  });

  it("stands in the words of its room where the server refuses something", () => {
    const files = readSourceFiles(...ROOMS.map((room) => `lib/server/${room}`));
    expect(files.filter(({ text }) => text.includes("AppError")).length).toBeGreaterThan(40);
    expect(files.flatMap(errorTextsIn)).toEqual([]);
    const sample =
      'new AppError("refused", `Frame ${serial} is held.`); new AppError("refused", words.isHeld(serial));';
    expect(errorTextsIn({ path: "lib/server/gate/sample.ts", text: sample })).toHaveLength(1);
  });

  it("has no word that was given up", () => {
    expect(givenUpWords(readSourceFiles("app", "lib"))).toEqual([]);
    const sample = (text: string): string[] => givenUpWords([{ path: "lib/format/sample.ts", text }]);
    expect(sample('const key = "Key anew";')).toHaveLength(1);
    expect(sample("const where = <p>Readings kept here, nothing waits</p>;")).toHaveLength(1);
    expect(
      sample(
        '// once it was held by itself\nconst word = "Held automatically"; const quiet = "Nothing waits for you";',
      ),
    ).toEqual([]);
  });

  it("is found where it stands elsewhere", () => {
    const sample = (text: string): string[] => textsIn({ path: "app/gate/sample.tsx", text });
    expect(sample("const a = <p>Held</p>;")).toHaveLength(1);
    expect(sample("const a = <p><b>{count}</b> frames</p>;")).toHaveLength(1);
    expect(sample('const a = <input aria-label="serial" placeholder={isEmpty ? "scan" : undefined} />;')).toHaveLength(
      2,
    );
    expect(sample('const column = { key: "batch", label: "batch" };')).toHaveLength(1);
    expect(sample('const word = isPending ? "is being asked" : `${count} are left`;')).toHaveLength(2);
    expect(sample('const a = <p>{isPending ? "Asking" : words.ask}</p>;')).toHaveLength(1);
    expect(sample('const a = <p>{name ?? "nobody"}</p>;')).toHaveLength(1);
    expect(sample('const a = <p className="head noText">{words.held}</p>; const href = `/gate/${key}`;')).toEqual([]);
    expect(sample('const isOut = verdict === "does not conform"; const shown = "not proven";')).toEqual([]);
  });
});
