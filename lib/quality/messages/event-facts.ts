/** What is known of an event, as a program gets it and as the words for people are made of. Moments are ISO 8601. */
export type EventFacts =
  | {
      readonly kind: "batch.held";
      readonly batch: string;
      readonly line: string;
      readonly supplier: string;
      /** The first of the reasons, as sentences; empty where the batch holds no more. */
      readonly reasons: readonly string[];
    }
  | {
      readonly kind: "escape.opened";
      readonly serial: string;
      readonly batch: string;
      readonly line: string;
      readonly reason: string;
    }
  | {
      readonly kind: "gauge.failed";
      readonly gauge: string;
      readonly driftUm: number;
      readonly limitUm: number;
      /** Frames and batches that are held by it, and shipped frames that it puts in doubt. */
      readonly heldFrames: number;
      readonly heldBatches: number;
      readonly escapes: number;
    }
  | { readonly kind: "gauge.due"; readonly gauge: string; readonly dueAt: string; readonly overdue: boolean }
  | {
      readonly kind: "device.silent";
      readonly device: string;
      readonly station: string | null;
      readonly waiting: number;
      readonly lastSeenAt: string;
    }
  | { readonly kind: "decision.waiting"; readonly batch: string; readonly line: string; readonly heldAt: string }
  | { readonly kind: "backup.failed"; readonly backup: string; readonly error: string }
  /** Null: there is none at all. */
  | { readonly kind: "backup.old"; readonly backup: string; readonly writtenAt: string | null }
  | { readonly kind: "job.failed"; readonly job: string; readonly error: string }
  | (CaseFacts & { readonly kind: "case.opened" })
  | (CaseFacts & { readonly kind: "case.back" })
  | (CaseFacts & {
      readonly kind: "case.forecast";
      /** Frames until the trend meets its limit, and until the tool is changed as it usually is. */
      readonly framesToLimit: number;
      readonly framesToChange: number;
    });

/** A case as it is told of; the sentences in the words of Drift. */
type CaseFacts = {
  readonly id: string;
  readonly number: number;
  readonly line: string;
  readonly what: string;
  readonly likely: string;
  readonly serial: string;
};
