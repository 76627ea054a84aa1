/** Whose cause the evidence speaks for: the supplier's, ours, or neither clearly. */
export type CauseSide = "supplier" | "ours" | "open";

/** Causes of a case that come with the shells; a cause that nobody knows speaks for nobody, every other one is ours. */
const OF_SUPPLIER: ReadonlySet<string> = new Set(["mould", "material lot"]);
const OF_NOBODY = "unknown";

/** Whose a case's cause is. */
export function sideOfCause(cause: string): CauseSide {
  if (cause === OF_NOBODY) return "open";
  return OF_SUPPLIER.has(cause) ? "supplier" : "ours";
}

/** Frames measured, and those of them that do not conform. */
export type Share = { readonly measured: number; readonly failed: number };

/** What is known of where a batch's failures come from. */
export type CauseFacts = {
  /** Operations at which its failed frames were measured, in the order of the route. */
  readonly operations: readonly { readonly name: string; readonly isIncoming: boolean }[];
  readonly batch: Share;
  /** Mould cavities of the batch; [] where it has none or one. */
  readonly moulds: readonly (Share & { readonly mould: string })[];
  /** Other batches of the same supplier and model, 90 days back. */
  readonly supplier: Share & { readonly batches: number };
  /** Batches of other suppliers on the same line in the days of this one. */
  readonly neighbours: Share & {
    readonly batches: number;
    /** Batches of them in which at least one frame in twenty failed. */
    readonly troubled: number;
  };
  /** What the cases on its line found as the likely cause, by whose it is; only where one cause is named. */
  readonly cases: readonly { readonly number: number; readonly cause: string; readonly isOurs: boolean }[];
  /** Gauges that failed a zero check or had no calibration while they measured it. */
  readonly gauges: readonly string[];
  /** What was done on the line while it was measured, with its frames measured before and after. */
  readonly events: readonly {
    readonly kind: string;
    readonly at: Date;
    readonly before: Share;
    readonly after: Share;
  }[];
};

/** One point of the evidence: what it speaks for, and how heavily (2 plainly, 1 somewhat). */
export type CausePoint = { readonly side: Exclude<CauseSide, "open">; readonly weight: 1 | 2 } & (
  | { readonly code: "incoming" | "after-work"; readonly operations: readonly string[] }
  | { readonly code: "one-mould"; readonly mould: string; readonly failed: number; readonly of: number }
  | { readonly code: "supplier-before"; readonly share: CauseFacts["supplier"] }
  | { readonly code: "supplier-clean"; readonly share: CauseFacts["supplier"] }
  | { readonly code: "neighbours-too"; readonly share: CauseFacts["neighbours"] }
  | { readonly code: "neighbours-clean"; readonly share: CauseFacts["neighbours"] }
  | { readonly code: "case"; readonly number: number; readonly cause: string }
  | { readonly code: "gauge"; readonly gauges: readonly string[] }
  | {
      readonly code: "event";
      readonly kind: string;
      readonly at: Date;
      readonly when: "before" | "after";
      readonly share: Share;
    }
);

export type CauseEvidence = { readonly side: CauseSide; readonly points: readonly CausePoint[] };

/** Fewer frames say nothing about a share. */
const FEWEST = 20;
/** A share of failed frames from which on others have the same trouble, and below which they are clean. */
const TROUBLED = 0.05;
const CLEAN = 0.01;
/** Of the failed frames, those of one part of the batch from which on it is that part; of its frames it has to have less. */
const OF_ONE_PART = 0.8;
/** Whose points outweigh the other's by this much has the cause. */
const CLEARLY = 2;

const shareOf = ({ measured, failed }: Share): number => (measured === 0 ? 0 : failed / measured);

/** Whether the failures lie in one part of the batch, and not only because most of its frames do. */
function liesIn(part: Share, batch: Share): boolean {
  return part.failed >= 2 && part.failed >= OF_ONE_PART * batch.failed && part.measured < OF_ONE_PART * batch.measured;
}

function mouldPoint({ moulds, batch }: CauseFacts): CausePoint[] {
  const worst = moulds.toSorted((a, b) => b.failed - a.failed)[0];
  if (worst === undefined || moulds.length < 2 || !liesIn(worst, batch)) return [];
  return [
    { code: "one-mould", side: "supplier", weight: 2, mould: worst.mould, failed: worst.failed, of: batch.failed },
  ];
}

/** What was done on the line and parts its good frames from its bad ones; the first of several. */
function eventPoint({ events, batch }: CauseFacts): CausePoint[] {
  for (const { kind, at, ...parts } of events)
    for (const when of ["after", "before"] as const)
      if (liesIn(parts[when], batch))
        return [{ code: "event", side: "ours", weight: 2, kind, at, when, share: parts[when] }];
  return [];
}

function supplierPoint({ supplier }: CauseFacts): CausePoint[] {
  if (supplier.measured < FEWEST) return [];
  if (shareOf(supplier) >= TROUBLED) return [{ code: "supplier-before", side: "supplier", weight: 1, share: supplier }];
  if (shareOf(supplier) <= CLEAN) return [{ code: "supplier-clean", side: "ours", weight: 1, share: supplier }];
  return [];
}

function neighbourPoint({ neighbours }: CauseFacts): CausePoint[] {
  if (neighbours.measured < FEWEST) return [];
  // One bad batch among several good ones says nothing about the line.
  if (2 * neighbours.troubled >= neighbours.batches)
    return [{ code: "neighbours-too", side: "ours", weight: 2, share: neighbours }];
  if (shareOf(neighbours) <= CLEAN)
    return [{ code: "neighbours-clean", side: "supplier", weight: 1, share: neighbours }];
  return [];
}

function operationPoint({ operations }: CauseFacts): CausePoint[] {
  if (operations.length === 0) return [];
  const names = operations.map(({ name }) => name);
  // What failed before we touched it cannot be our work.
  if (operations.some(({ isIncoming }) => isIncoming))
    return [{ code: "incoming", side: "supplier", weight: 2, operations: names }];
  return [{ code: "after-work", side: "ours", weight: 1, operations: names }];
}

/**
 * Whose cause the evidence of a batch speaks for. A help for the person who decides, no proof: the points are named with their
 * numbers, and the side follows from their weights.
 *
 * @returns "open" where neither side outweighs the other by 2, or nothing failed
 * Source: weights, shares and counts are choices of this project, none.
 */
export function causeSide(facts: CauseFacts): CauseEvidence {
  if (facts.batch.failed === 0) return { side: "open", points: [] };
  const points: CausePoint[] = [
    ...(facts.gauges.length === 0 ? [] : [{ code: "gauge", side: "ours", weight: 2, gauges: facts.gauges } as const]),
    ...facts.cases
      .slice(0, 1)
      .map(
        ({ number, cause, isOurs }) =>
          ({ code: "case", side: isOurs ? "ours" : "supplier", weight: 2, number, cause }) as const,
      ),
    ...operationPoint(facts),
    ...eventPoint(facts),
    ...mouldPoint(facts),
    ...neighbourPoint(facts),
    ...supplierPoint(facts),
  ];
  const weightOf = (side: CauseSide): number =>
    points.filter((point) => point.side === side).reduce((sum, { weight }) => sum + weight, 0);
  const balance = weightOf("supplier") - weightOf("ours");
  if (balance >= CLEARLY) return { side: "supplier", points };
  return { side: balance <= -CLEARLY ? "ours" : "open", points };
}
