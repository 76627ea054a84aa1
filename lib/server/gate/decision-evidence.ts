import "server-only";
import { z } from "zod";
import type { ToldBatchReason } from "@/lib/format/batch-words";

/** What a signer saw of a batch, as it is kept with the decision. */
export type BatchPicture = {
  readonly verdicts: Readonly<Record<"conforms" | "does not conform" | "not proven" | "not measured", number>>;
  readonly reasons: readonly ToldBatchReason[];
  readonly notes: readonly ToldBatchReason[];
};

/** Whose cause the evidence spoke for, what the signer said, and what it costs. */
export type DecidedCause = {
  readonly side: "supplier" | "ours" | "open";
  readonly said: string | null;
  readonly against: string | null;
  readonly cost: number | null;
};

const reason = z.custom<ToldBatchReason>(
  (value) => typeof value === "object" && value !== null && "text" in value && "serials" in value && "code" in value,
);
const picture: z.ZodType<BatchPicture> = z.object({
  verdicts: z.object({
    conforms: z.number(),
    "does not conform": z.number(),
    "not proven": z.number(),
    "not measured": z.number(),
  }),
  reasons: z.array(reason),
  notes: z.array(reason),
});
const cause: z.ZodType<DecidedCause> = z.object({
  side: z.enum(["supplier", "ours", "open"]),
  said: z.string().nullable(),
  against: z.string().nullable(),
  cost: z.number().nullable(),
});

/** What of a decision's kept evidence can be shown: null for what decisions of before did not keep. */
export function readDecisionEvidence(evidence: unknown): {
  readonly picture: BatchPicture | null;
  readonly cause: DecidedCause | null;
} {
  const kept = z.object({ picture: z.unknown().optional(), cause: z.unknown().optional() }).safeParse(evidence).data;
  return {
    picture: picture.safeParse(kept?.picture).data ?? null,
    cause: cause.safeParse(kept?.cause).data ?? null,
  };
}
