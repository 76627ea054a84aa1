import { formatCounted } from "@/lib/format/number-text";

/** Texts of the search. */
export const SEARCH_WORDS = {
  found: {
    search: "Search",
    whatAreYouLookingFor: "What are you looking for?",
    foundFor: (q: string) => `Found for "${q}"`,
    typeSerial: "Type a serial, a batch or a stream",
    nothingHasInName: "Nothing has this in its name",
    threeCharactersOfName:
      "Three characters of the name are enough, as 044, PM-26 or bore mean; one or two find what begins with them.",
    atMost20OfKind: "at most 20 of a kind; type more of the name to narrow it",
    hits: (count: number) => formatCounted(count, "hit"),
  },
};
