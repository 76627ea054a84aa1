import "server-only";
import { unstable_rethrow } from "next/navigation";
import type { z } from "zod";
import { AppError } from "../errors";
import type { ActionResult } from "../schemas/action-result";
import { getViewer } from "./auth/current-viewer";
import type { Viewer } from "./auth/viewer";
import { failureOf } from "./failure";
import { parseInput } from "./parse-input";

/** A server action: called with its input, or by a form through useActionState. */
export type ServerAction<Input, T> = {
  (input: Input): Promise<ActionResult<T>>;
  (previous: ActionResult<T> | null, form: FormData): Promise<ActionResult<T>>;
};

/** Fields of a form by name; a name that occurs several times, or ends in [], becomes a list. */
export function formFields(form: FormData): Record<string, unknown> {
  const fields: Record<string, unknown> = {};
  for (const name of new Set(form.keys())) {
    if (name.startsWith("$ACTION_")) continue;
    const values = form.getAll(name);
    if (name.endsWith("[]")) fields[name.slice(0, -2)] = values;
    else fields[name] = values.length > 1 ? values : values[0];
  }
  return fields;
}

function makeAction<S extends z.ZodType, T>(
  schema: S,
  run: (input: z.output<S>) => Promise<T>,
): ServerAction<z.input<S>, T> {
  return async (...args: readonly unknown[]): Promise<ActionResult<T>> => {
    try {
      const last = args.at(-1);
      return { ok: true, data: await run(parseInput(schema, last instanceof FormData ? formFields(last) : last)) };
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
 * Makes a server action for somebody who is signed in: session, zod, call, errors to words, log. What the viewer may do is
 * the command's matter. A redirect or not-found that the handler throws goes through.
 */
export function defineAction<S extends z.ZodType, T>(
  schema: S,
  handler: (viewer: Viewer, input: z.output<S>) => Promise<T>,
): ServerAction<z.input<S>, T> {
  return makeAction(schema, async (input) => {
    const viewer = await getViewer();
    if (viewer === null) throw new AppError("not-signed-in", "You are signed out. Sign in and try again.");
    return handler(viewer, input);
  });
}

/** As defineAction, for the few acts of somebody who is not signed in yet: sign-in, sign-out, first set-up. */
export function definePublicAction<S extends z.ZodType, T>(
  schema: S,
  handler: (input: z.output<S>) => Promise<T>,
): ServerAction<z.input<S>, T> {
  return makeAction(schema, handler);
}
