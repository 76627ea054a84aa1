/** Tests that a stream may have beside the three of the scheme. */
export const CHOSEN_TESTS = ["zone-tests", "eight-tests", "ewma", "one-sum", "limit-only"] as const;
export type ChosenTest = (typeof CHOSEN_TESTS)[number];
