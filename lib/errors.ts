/** Every way in which a request can fail that a person or a program is told about. */
export const APP_ERROR_STATUS = {
  "invalid-input": 400,
  "not-signed-in": 401,
  "sign-in-refused": 401,
  forbidden: 403,
  "not-found": 404,
  "method-not-allowed": 405,
  conflict: 409,
  "already-recorded-differently": 409,
  "plan-changed": 409,
  "wrong-batch": 409,
  "already-shipped": 409,
  "frame-leased": 409,
  refused: 409,
  "length-required": 411,
  "too-large": 413,
  "unsupported-media-type": 415,
  misdirected: 421,
  "too-many-requests": 429,
  unavailable: 503,
  "storage-full": 507,
  unexpected: 500,
} as const satisfies Record<string, number>;

export type AppErrorCode = keyof typeof APP_ERROR_STATUS;

/** One thing that was wrong in the input: where, and in words. */
export type FieldProblem = { readonly path: string; readonly message: string };

export class AppError extends Error {
  readonly code: AppErrorCode;
  /** What the person sees: what happened, what was kept, what to do next. */
  readonly userMessage: string;
  readonly details: Readonly<Record<string, unknown>>;
  readonly fields: readonly FieldProblem[];

  constructor(
    code: AppErrorCode,
    userMessage: string,
    options: { details?: Record<string, unknown>; fields?: readonly FieldProblem[]; cause?: unknown } = {},
  ) {
    super(userMessage, { cause: options.cause });
    this.name = "AppError";
    this.code = code;
    this.userMessage = userMessage;
    this.details = options.details ?? {};
    this.fields = options.fields ?? [];
  }
}
