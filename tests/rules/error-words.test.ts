import { parseSync, traverse, types } from "@babel/core";
import { describe, expect, it } from "vitest";
import { readSourceFiles, type SourceFile } from "./source-files";

/** A name as programs write it, such as expiresAt or plan_id: no person knows what it means. */
const PROGRAM_NAME = /\b[a-z]+(?:[A-Z][a-z]+|_[a-z]+)\w*\b/;

/** The texts of a value that is a string, a template or a choice of them; what is filled in later is not looked at. */
function textsOf(node: types.Node | null | undefined): string[] {
  if (types.isStringLiteral(node)) return [node.value];
  if (types.isTemplateLiteral(node)) return node.quasis.map(({ value }) => value.cooked ?? "");
  if (types.isBinaryExpression(node)) return [...textsOf(node.left), ...textsOf(node.right)];
  if (types.isConditionalExpression(node)) return [...textsOf(node.consequent), ...textsOf(node.alternate)];
  return [];
}

/** Texts that a person reads when something is refused: those of AppError, of field problems, and of schemas. */
function programNames(files: readonly SourceFile[]): string[] {
  return files.flatMap((file) => {
    if (!/AppError|message|z\./.test(file.text)) return [];
    const found: string[] = [];
    const look = (node: types.Node | null | undefined): void => {
      for (const text of textsOf(node)) {
        const name = PROGRAM_NAME.exec(text)?.[0];
        if (name !== undefined) found.push(`${file.path}:${node?.loc?.start.line ?? 0}: ${name}`);
      }
    };
    const tree = parseSync(file.text, {
      filename: file.path,
      configFile: false,
      babelrc: false,
      parserOpts: { plugins: ["typescript", ...(file.path.endsWith(".tsx") ? (["jsx"] as const) : [])] },
    });
    if (tree === null) throw new Error(`${file.path} cannot be read`);
    traverse(tree, {
      NewExpression({ node }) {
        if (types.isIdentifier(node.callee, { name: "AppError" })) look(node.arguments[1]);
      },
      ObjectProperty({ node }) {
        if (types.isIdentifier(node.key, { name: "message" })) look(node.value);
      },
      CallExpression({ node }) {
        if (file.path.startsWith("lib/schemas/") && types.isMemberExpression(node.callee))
          for (const argument of node.arguments) if (textsOf(argument).join("").includes(" ")) look(argument);
      },
    });
    return found;
  });
}

describe("what a person reads of an error", () => {
  it("names nothing as programs do", () => {
    expect(programNames(readSourceFiles("lib/server", "lib/schemas", "lib/cli", "app"))).toEqual([]);
  });

  it("is found where it does", () => {
    const text = [
      'throw new AppError("invalid-input", `Give expiresAt. ${KEPT}`);',
      'const fields = [{ path: "dueAt", message: "dueAt must lie ahead" }];',
      'const schema = z.string().min(1, "the plan_id must not be empty");',
      'throw new AppError("refused", ok ? "Fine." : "Set the newPassword first.");',
    ].join("\n");
    expect(programNames([{ path: "lib/schemas/sample.ts", text }])).toHaveLength(4);
    expect(programNames([{ path: "a.ts", text: 'new AppError("x", `Frame ${serialNumber} is held.`)' }])).toEqual([]);
  });
});
