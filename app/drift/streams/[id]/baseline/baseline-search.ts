import { z } from "zod";
import { BASELINE_WORDS } from "./words";
import { type BaselineWish, baselineWishSchema, MOST_VERSIONS } from "@/lib/schemas/baseline";

const one = z.string().trim().max(200).catch("");
const searchSchema = z.object({
  newest: one,
  from: one,
  to: one,
  case: one,
  earlier: z.coerce.number().int().min(1).max(MOST_VERSIONS).optional().catch(undefined),
  later: z.coerce.number().int().min(1).max(MOST_VERSIONS).optional().catch(undefined),
});

export type BaselineSearch = {
  readonly newest: string;
  readonly from: string;
  readonly to: string;
  readonly case: string;
  readonly wish:
    { readonly ok: true; readonly wish: BaselineWish } | { readonly ok: false; readonly words: string } | null;
  readonly compared: { readonly earlier: number; readonly later: number } | null;
};

const CAUSE = "cause.";

/** What the address asks for. */
export function readBaselineSearch(given: Readonly<Record<string, string | string[] | undefined>>): BaselineSearch {
  const { earlier, later, ...typed } = searchSchema.parse(given);
  const compared = earlier === undefined || later === undefined ? null : { earlier, later };
  const isStretch = typed.from !== "" || typed.to !== "";
  if (!isStretch && typed.newest === "") return { ...typed, wish: null, compared };
  const causes = Object.entries(given).flatMap(([name, cause]) =>
    name.startsWith(CAUSE) && typeof cause === "string" && cause.trim() !== ""
      ? [{ frame: name.slice(CAUSE.length), cause }]
      : [],
  );
  const stretch = isStretch ? { from: typed.from, to: typed.to } : { newest: typed.newest };
  const read = baselineWishSchema.safeParse({ stretch, caseId: typed.case, causes });
  const wish = read.success
    ? { ok: true as const, wish: read.data }
    : { ok: false as const, words: [...new Set(read.error.issues.map(wordsOf))].join("; ") };
  return { ...typed, wish, compared };
}

function wordsOf({ path }: z.core.$ZodIssue): string {
  return path[0] === "stretch" ? BASELINE_WORDS.wish.badStretch : BASELINE_WORDS.wish.badAddress;
}
