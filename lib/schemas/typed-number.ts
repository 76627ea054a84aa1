import { z } from "zod";

const NUMBER = /^[+\-\u2212]?(\d+([.,]\d*)?|[.,]\d+)$/;

/** A number as it was typed, with comma or point; null where the text is none. */
export function readTypedNumber(text: string): number | null {
  const plain = text.trim();
  if (plain.length > 20 || !NUMBER.test(plain)) return null;
  return Number(plain.replace(",", ".").replace("\u2212", "-"));
}

/** A typed number in a form. */
export const typedNumberSchema = z.string().transform((text, context) => {
  const value = readTypedNumber(text);
  if (value !== null) return value;
  context.addIssue({ code: "custom", message: text.trim() === "" ? "must be given" : "must be a number" });
  return z.NEVER;
});

/** A typed number, or null where the field was left empty. */
export const optionalNumberSchema = z.string().transform((text, context) => {
  if (text.trim() === "") return null;
  const value = readTypedNumber(text);
  if (value !== null) return value;
  context.addIssue({ code: "custom", message: "must be a number, or empty" });
  return z.NEVER;
});

/** A number as JSON has it, or as a form sends it. What a coercion takes for one as well is none: a tick, a list, an empty field. */
export const sentNumber = (words = "must be a number") => z.union([z.number(), typedNumberSchema], words);

/** The version of what is changed that its reader saw, as a form or a page sends it. */
export const seenVersion = sentNumber().pipe(z.int().min(0));
