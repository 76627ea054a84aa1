/** Version of the computations in lib/core: stored with each result, raised when a number that a user sees can change. */
export const CORE_VERSION = "4";
