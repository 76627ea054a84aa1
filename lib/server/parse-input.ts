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

/** U+0000, and half a surrogate pair: neither can be stored as it was sent. */
const UNSTORABLE = /[\u0000\p{Surrogate}]/u;
const UNSTORABLE_WORDS = "must not hold the character U+0000 or half a surrogate pair";

/** The place of the first text that no database can keep as it was sent; null where there is none. */
function unstorablePlace(value: unknown): PropertyKey[] | null {
  if (typeof value === "string") return UNSTORABLE.test(value) ? [] : null;
  if (typeof value !== "object" || value === null) return null;
  if (Array.isArray(value)) {
    for (let index = 0; index < value.length; index += 1) {
      if (typeof value[index] === "number") continue;
      const place = unstorablePlace(value[index]);
      if (place !== null) return [index, ...place];
    }
    return null;
  }
  for (const [key, inner] of Object.entries(value)) {
    if (UNSTORABLE.test(key)) return [];
    const place = unstorablePlace(inner);
    if (place !== null) return [key, ...place];
  }
  return null;
}

/**
 * Refuses input with a text that cannot be stored as it was sent.
 * @throws AppError invalid-input with the place of the text
 */
export function assertStorable(input: unknown): void {
  const place = unstorablePlace(input);
  if (place === null) return;
  const fields = [{ path: pathText(place), message: UNSTORABLE_WORDS }];
  throw new AppError("invalid-input", inWords(fields, 1), { fields });
}

/**
 * Input from outside as the schema's type.
 *
 * @param options.textsLater - true where the caller checks the texts of each part by itself, with assertStorable
 * @throws AppError invalid-input with the problem of each field
 */
export function parseInput<S extends z.ZodType>(
  schema: S,
  input: unknown,
  { textsLater = false }: { readonly textsLater?: boolean } = {},
): z.output<S> {
  const parsed = schema.safeParse(input);
  if (parsed.success) {
    if (!textsLater) assertStorable(parsed.data);
    return parsed.data;
  }
  const fields = fieldProblems(parsed.error);
  throw new AppError("invalid-input", inWords(fields, parsed.error.issues.length), { fields });
}
