import "server-only";
import type { z } from "zod";
import { AppError, type FieldProblem } from "../errors";

const MOST_PROBLEMS = 50;

function pathText(path: readonly PropertyKey[]): string {
  return path.reduce<string>((text, part) => {
    if (typeof part === "number") return `${text}[${part}]`;
    return text === "" ? String(part) : `${text}.${String(part)}`;
  }, "");
}

/** What was wrong with the input, place by place; at most fifty problems, so that a bad bulk is answered briefly. */
export function fieldProblems(error: z.ZodError): readonly FieldProblem[] {
  return error.issues.slice(0, MOST_PROBLEMS).map(({ path, message }) => ({ path: pathText(path), message }));
}

function inWords(problems: readonly FieldProblem[], count: number): string {
  const first = problems[0];
  const where = first === undefined || first.path === "" ? "" : `${first.path}: `;
  const more = count > 1 ? ` (and ${count - 1} more)` : "";
  return `The input is not as it must be. ${where}${first?.message ?? ""}${more}. Nothing was changed.`;
}

/**
 * Input from outside as the schema's type.
 * @throws AppError invalid-input with the problem of each field
 */
export function parseInput<S extends z.ZodType>(schema: S, input: unknown): z.output<S> {
  const parsed = schema.safeParse(input);
  if (parsed.success) return parsed.data;
  const fields = fieldProblems(parsed.error);
  throw new AppError("invalid-input", inWords(fields, parsed.error.issues.length), { fields });
}
