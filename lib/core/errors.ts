/** Why a core function refused its input. */
export type CoreErrorCode =
  | "too-few-values"
  | "length-mismatch"
  | "not-finite"
  | "out-of-range"
  | "degenerate"
  | "duplicate"
  | "not-converged"
  | "invalid-argument";

/**
 * Wrong input to a core function (length, domain, not finite).
 * Message form: `<function>: <argument> must <rule>; got <value> (at index i)`.
 */
export class CoreError extends Error {
  readonly code: CoreErrorCode;
  readonly data: Readonly<Record<string, unknown>>;

  constructor(code: CoreErrorCode, message: string, data: Readonly<Record<string, unknown>> = {}) {
    super(message);
    this.name = "CoreError";
    this.code = code;
    this.data = data;
  }
}

/** A legitimate "no answer": the caller has to decide what to do with the reason. */
export type Estimate<T> =
  | { readonly ok: true; readonly value: T; readonly warnings: readonly string[] }
  | { readonly ok: false; readonly reason: string };
