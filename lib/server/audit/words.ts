import "server-only";

/** Texts that the room audit says to people, by the file that says them. */
export const AUDIT_WORDS = {
  checkJob: {
    checkJournal: "check the journal",
  },
  journalChecks: {
    checkIsOnWayAlready: "A check is on its way already. Its result will stand here; ask again after it.",
  },
};
