import "server-only";
import type { z } from "zod";
import { CoreError, type CoreErrorCode } from "@/lib/core/errors";
import { AppError, type AppErrorCode, type FieldProblem } from "@/lib/errors";
import { offsetStreamBound, streamBound, streamCapability } from "@/lib/quality/stream-capability";
import { analysisRequestSchema } from "@/lib/schemas/analysis";
import { gaugeStudyRequestSchema } from "@/lib/schemas/gauge-study";
import { geometryRequestSchema } from "@/lib/schemas/geometry";
import { analyse } from "../analysis/analyse";
import { answerGaugeStudy } from "../analysis/answer-gauge-study";
import { answerGeometry } from "../geometry/answer-geometry";
import { fieldProblems, issueInWords, parseInput } from "../base/parse-input";
import { parseJson } from "../base/request-body";
import { COMPUTE_WORDS } from "./words";

const words = COMPUTE_WORDS.answerTask;

/** Largest answer of one request: what a program can read at once, and what memory can hold several times. */
const MOST_ANSWER_BYTES = 32 * 2 ** 20;

/** The answer to a body as it was sent, as it will be sent. */
function answerJson(body: Uint8Array, answer: (parsed: unknown) => unknown): Uint8Array<ArrayBuffer> {
  const bytes = new TextEncoder().encode(JSON.stringify(answer(parseJson(body))));
  if (bytes.byteLength <= MOST_ANSWER_BYTES) return bytes;
  throw new AppError("too-large", words.answerWouldBeLarger(MOST_ANSWER_BYTES / 2 ** 20), {
    details: { maxBytes: MOST_ANSWER_BYTES },
  });
}

/** The request as its schema's type; a list that is too long is told as that, with its limit. */
function parseSized<S extends z.ZodType>(schema: S, input: unknown): z.output<S> {
  const issues = schema.safeParse(input, { error: issueInWords }).error?.issues ?? [];
  const long = issues.find((issue) => issue.code === "too_big" && issue.origin === "array");
  if (long?.code !== "too_big") return parseInput(schema, input);
  const fields = fieldProblems({ issues: [long] } as z.ZodError);
  throw new AppError("too-large", words.mayHaveAtMostEntries(fields[0]?.path ?? words.aList, long.maximum), {
    fields,
    details: { most: Number(long.maximum) },
  });
}

type OffsetsAgainstZone = {
  readonly offsets: Parameters<typeof offsetStreamBound>[0];
  readonly zoneUm: number | null;
  readonly stability: Parameters<typeof offsetStreamBound>[2];
};

/** What the computing thread can be asked; inputs and outputs are plain data. */
export const TASKS = {
  analysis: (body: Uint8Array) => answerJson(body, (parsed) => analyse(parseSized(analysisRequestSchema, parsed))),
  geometry: (body: Uint8Array) =>
    answerJson(body, (parsed) => answerGeometry(parseSized(geometryRequestSchema, parsed))),
  "gauge-study": (body: Uint8Array) =>
    answerJson(body, (parsed) => answerGaugeStudy(parseSized(gaugeStudyRequestSchema, parsed))),
  "stream-capability": streamCapability,
  "stream-bound": streamBound,
  "offset-bound": ({ offsets, zoneUm, stability }: OffsetsAgainstZone) => offsetStreamBound(offsets, zoneUm, stability),
} as const;

export type Task = keyof typeof TASKS;
export type TaskInput<T extends Task> = Parameters<(typeof TASKS)[T]>[0];
export type TaskOutput<T extends Task> = ReturnType<(typeof TASKS)[T]>;

/** An error as it crosses from the computing thread. */
export type ToldError =
  | {
      readonly kind: "app";
      readonly code: AppErrorCode;
      readonly message: string;
      readonly details: Readonly<Record<string, unknown>>;
      readonly fields: readonly FieldProblem[];
    }
  | {
      readonly kind: "core";
      readonly code: CoreErrorCode;
      readonly message: string;
      readonly data: Readonly<Record<string, unknown>>;
    }
  | { readonly kind: "other"; readonly stack: string };

export type Reply = { readonly value: unknown } | { readonly error: ToldError };

function told(error: unknown): ToldError {
  if (error instanceof AppError) {
    const { code, userMessage, details, fields } = error;
    return { kind: "app", code, message: userMessage, details, fields };
  }
  if (error instanceof CoreError) return { kind: "core", code: error.code, message: error.message, data: error.data };
  return { kind: "other", stack: error instanceof Error ? (error.stack ?? error.message) : String(error) };
}

/** Does one task; an error becomes part of the reply. Bytes are handed over instead of copied. */
export function answerTask(task: Task, input: unknown): { readonly reply: Reply; readonly transfer: ArrayBuffer[] } {
  try {
    const value = (TASKS[task] as (given: unknown) => unknown)(input);
    const transfer = value instanceof Uint8Array && value.buffer instanceof ArrayBuffer ? [value.buffer] : [];
    return { reply: { value }, transfer };
  } catch (error) {
    return { reply: { error: told(error) }, transfer: [] };
  }
}
