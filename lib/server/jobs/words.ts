import "server-only";

/** Texts that the room jobs says to people, by the file that says them. */
export const JOBS_WORDS = {
  runJob: {
    somethingUnexpectedHappened: (own: string) =>
      `Something unexpected happened, which the worker’s log tells more of: ${own}`,
    allOf: "all of it",
    anotherVersionOfShellgateWrote: (where: string) =>
      `Another version of Shellgate wrote its data, and this one cannot read it (${where}).`,
  },
  workers: {
    workersEndedWhileTheyDid: (mostDeaths: number) =>
      `${mostDeaths} workers ended while they did it. It is not begun by itself any more.`,
  },
};
