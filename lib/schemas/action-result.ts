import type { AppErrorCode, FieldProblem } from "../errors";

/** Why a server action did not do what it was asked, in words for the person who asked. */
export type ActionError = {
  readonly code: AppErrorCode;
  readonly message: string;
  readonly fields?: readonly FieldProblem[];
  /** Present for an unexpected error: the number under which it was logged. */
  readonly eventId?: string;
};

/** What a server action answers. */
export type ActionResult<T> =
  { readonly ok: true; readonly data: T } | { readonly ok: false; readonly error: ActionError };
