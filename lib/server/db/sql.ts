import "server-only";

/** A statement with its values apart, as `pg` takes it. */
export type Statement = { readonly text: string; readonly values: readonly unknown[]; readonly name?: string };

const isStatement = (value: unknown): value is Statement =>
  typeof value === "object" && value !== null && "text" in value && "values" in value && "strings" in value;

type Part = Statement & { readonly strings: readonly string[] };

/**
 * Raw SQL as a tagged template: every `${value}` becomes a bound parameter, a nested sql`...` is woven in. Nothing is
 * ever pasted into the text.
 *
 * @example await client.query(sql`select ${1}::int as one`)
 */
export function sql(strings: TemplateStringsArray, ...values: readonly unknown[]): Part & { values: unknown[] } {
  const flatStrings: string[] = [strings[0] ?? ""];
  const flatValues: unknown[] = [];
  const appendText = (text: string): void => {
    flatStrings.push((flatStrings.pop() ?? "") + text);
  };
  values.forEach((value, index) => {
    if (isStatement(value)) {
      const nested = value as Part;
      appendText(nested.strings[0] ?? "");
      nested.values.forEach((inner, at) => {
        flatValues.push(inner);
        flatStrings.push(nested.strings[at + 1] ?? "");
      });
      appendText(strings[index + 1] ?? "");
    } else {
      flatValues.push(value);
      flatStrings.push(strings[index + 1] ?? "");
    }
  });
  return woven(flatStrings, flatValues);
}

/** A statement, or a part of one, of its pieces of text and the values between them. Pieces come from the sources, never from data. */
export function woven(strings: readonly string[], values: unknown[]): Part & { values: unknown[] } {
  const text = strings.reduce((all, piece, index) => (index === 0 ? piece : `${all}$${index}${piece}`), "");
  return { strings, text, values };
}

/** A part of a statement without values. Its text comes from the sources, never from data. */
export function constant(text: string): Part & { values: unknown[] } {
  return woven([text], []);
}

/** Gives a statement a name, so that each connection plans it once. Same name, same text. */
export function prepared(name: string, statement: Statement): Statement & { values: unknown[] } {
  return { name, text: statement.text, values: [...statement.values] };
}
