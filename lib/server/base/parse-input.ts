import "server-only";
import type { z } from "zod";
import { AppError, type FieldProblem } from "../../errors";
import { fieldInWords } from "../../format/field-words";
import { BASE_WORDS } from "./words";

const words = BASE_WORDS.parseInput;

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

const KIND_WORDS: Readonly<Record<string, string>> = {
  string: "must be a text",
  number: "must be a number",
  int: "must be a whole number",
  boolean: "must be yes or no",
  array: "must be a list",
  object: "must be an object with the fields that are asked for",
};
const FORMAT_WORDS: Readonly<Record<string, string>> = {
  datetime: "must be a day and a time such as 2026-06-05T14:30:00Z",
  date: "must be a day such as 2026-06-05",
  uuid: "must be a key of the form 0190b3a0-7b1c-7000-8000-000000000000",
  email: "must be an e-mail address",
  url: "must be an address",
};

/** What a schema says where it has no words of its own; null leaves it to the library. */
export function issueInWords(issue: z.core.$ZodRawIssue): string | null {
  if (issue.code === "invalid_type") {
    if (issue.input === undefined) return words.mustBeGiven;
    return KIND_WORDS[issue.expected] ?? null;
  }
  if (issue.code === "invalid_format") return FORMAT_WORDS[issue.format] ?? words.isNotWrittenAsMust;
  if (issue.code === "invalid_value") return words.mustBeOneOf(issue.values.map(String).join(", "));
  if (issue.code === "unrecognized_keys") return words.hasWhatIsNotAsked(issue.keys.join(", ").slice(0, 200));
  if (issue.code === "invalid_union") return words.hasNoneOfForms;
  if (issue.code === "too_small") {
    if (issue.origin === "string")
      return Number(issue.minimum) <= 1 ? words.mustNotBeEmpty : words.mustHaveAtLeastCharacters(issue.minimum);
    if (issue.origin === "array") return words.mustHaveAtLeast(issue.minimum);
    return issue.inclusive === false ? words.mustBeOver(issue.minimum) : words.mustBeOrMore(issue.minimum);
  }
  if (issue.code === "too_big") {
    if (issue.origin === "string") return words.mustHaveAtMostCharacters(issue.maximum);
    if (issue.origin === "array") return words.mustHaveAtMost(issue.maximum);
    return issue.inclusive === false ? words.mustBeBelow(issue.maximum) : words.mustBeAtMost(issue.maximum);
  }
  return null;
}

function inWords(problems: readonly FieldProblem[], count: number): string {
  const first = problems[0];
  const where = first === undefined || first.path === "" ? "" : `${fieldInWords(first.path)}: `;
  const more = count > 1 ? words.andMore(count - 1) : "";
  return words.inputIsNotAsMust(where, first?.message ?? "", more);
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
function assertStorable(input: unknown): void {
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
  const parsed = schema.safeParse(input, { error: issueInWords });
  if (parsed.success) {
    if (!textsLater) assertStorable(parsed.data);
    return parsed.data;
  }
  const fields = fieldProblems(parsed.error);
  throw new AppError("invalid-input", inWords(fields, parsed.error.issues.length), { fields });
}
