import "server-only";
import { unstable_rethrow } from "next/navigation";
import type { z } from "zod";
import { AppError } from "../../errors";
import type { ActionResult } from "../../schemas/action-result";
import { getViewer } from "../auth/current-viewer";
import type { Viewer } from "../auth/viewer";
import { failureOf } from "./failure";
import { parseInput } from "../base/parse-input";
import { DOORS_WORDS } from "./words";

const texts = DOORS_WORDS.action;

/** A server action: called with its input, or by a form through useActionState. */
export type ServerAction<Input, T> = {
  (input: Input): Promise<ActionResult<T>>;
  (previous: ActionResult<T> | null, form: FormData): Promise<ActionResult<T>>;
};

export type ActionOptions = {
  /** Characters of input at most, names and values together; what an action needs beyond the usual is said where it is made. */
  readonly maxCharacters?: number;
};

/** Room for every form but those that carry lists. */
const USUAL_CHARACTERS = 64 * 1024;
/** Before somebody has signed in there is little to say. */
const PUBLIC_CHARACTERS = 8 * 1024;

/** Fields of a form by name; a name that occurs several times, or ends in [], becomes a list. */
export function formFields(form: FormData): Record<string, unknown> {
  const values = new Map<string, unknown[]>();
  for (const [name, value] of form) {
    if (name.startsWith("$ACTION_")) continue;
    const known = values.get(name);
    if (known) known.push(value);
    else values.set(name, [value]);
  }
  return Object.fromEntries(
    [...values].map(([name, list]) =>
      name.endsWith("[]") ? [name.slice(0, -2), list] : [name, list.length > 1 ? list : list[0]],
    ),
  );
}

/** Whether some input holds more characters than that; looks no further than it has to. */
function isLonger(input: unknown, most: number): boolean {
  let left = most;
  const parts: unknown[] = [input];
  for (let part = parts.pop(); parts.length > 0 || part !== undefined; part = parts.pop()) {
    if (typeof part === "string") left -= part.length;
    else if (part instanceof Blob) left -= part.size;
    else if (part instanceof FormData) for (const entry of part) parts.push(...entry);
    else if (typeof part === "object" && part !== null) {
      for (const entry of Object.entries(part)) parts.push(...entry);
    } else left -= 1;
    if (left < 0) return true;
  }
  return false;
}

function assertNotLonger(input: unknown, most: number): void {
  if (!isLonger(input, most)) return;
  const words = texts.isMore(Math.round(most / 1024));
  throw new AppError("too-large", words, { details: { maxCharacters: most } });
}

/** `admit` comes first: what nobody may send is not even looked at. */
function makeAction<S extends z.ZodType, V, T>(
  schema: S,
  maxCharacters: number,
  admit: () => Promise<V>,
  run: (viewer: V, input: z.output<S>) => Promise<T>,
): ServerAction<z.input<S>, T> {
  return async (...args: readonly unknown[]): Promise<ActionResult<T>> => {
    try {
      const viewer = await admit();
      const last = args.at(-1);
      assertNotLonger(last, maxCharacters);
      const input = parseInput(schema, last instanceof FormData ? formFields(last) : last);
      return { ok: true, data: await run(viewer, input) };
    } catch (error) {
      unstable_rethrow(error);
      const { error: told, eventId } = failureOf(error, { where: "action" });
      const fields = told.fields.length === 0 ? {} : { fields: told.fields };
      const event = eventId === undefined ? {} : { eventId };
      return { ok: false, error: { code: told.code, message: told.userMessage, ...fields, ...event } };
    }
  };
}

/**
 * Makes a server action for somebody who is signed in: session, size, zod, call, errors to words, log. What the viewer may do
 * is the command's matter. A redirect or not-found that the handler throws goes through.
 */
export function defineAction<S extends z.ZodType, T>(
  schema: S,
  handler: (viewer: Viewer, input: z.output<S>) => Promise<T>,
  { maxCharacters = USUAL_CHARACTERS }: ActionOptions = {},
): ServerAction<z.input<S>, T> {
  const admit = async (): Promise<Viewer> => {
    const viewer = await getViewer();
    if (viewer === null) throw new AppError("not-signed-in", texts.youAreSignedOut);
    return viewer;
  };
  return makeAction(schema, maxCharacters, admit, handler);
}

/** As defineAction, for the few acts of somebody who is not signed in yet: sign-in, sign-out, first set-up. */
export function definePublicAction<S extends z.ZodType, T>(
  schema: S,
  handler: (input: z.output<S>) => Promise<T>,
): ServerAction<z.input<S>, T> {
  return makeAction(
    schema,
    PUBLIC_CHARACTERS,
    async () => null,
    (_nobody, input) => handler(input),
  );
}
