/** Texts of what all areas share: first page, rail, errors. */
export const APP_WORDS = {
  firstPage: {
    whereTo: "Where to?",
    lead: "One work area for each job. Press / to find a serial, batch or stream from anywhere.",
  },
  error: {
    pageCouldNotBeShown: "This page could not be shown",
    whatWasAlreadyRecorded:
      "What was already recorded is kept, and readings on this device stay on it. Try again; if it happens again, tell the person who looks after the program what you were doing.",
    databaseDoesNotAnswer: "The database does not answer",
    whatWasAlreadyRecordedIsKept:
      "What was already recorded is kept, and readings on this device stay on it and are sent when it is back. Try again in a moment.",
    shellgate: "Shellgate",
    tryAgain: "Try again",
    chooseWorkArea: "Choose a work area",
  },
  forbidden: {
    isNotOpenToYou: "This is not open to you",
    nothingWasShownOrChanged: "Nothing was shown or changed",
    toYourWorkAreas: "To your work areas",
    askAdministratorOfPlant: (viewer: string) => `${viewer} Ask an administrator of the plant if one is missing.`,
    youAreNotSignedIn: "You are not signed in.",
    hasNoRoleSeesPage: (viewer: string) => `${viewer} has no role that sees this page.`,
  },
  notFound: {
    isNothingAtAddress: "There is nothing at this address",
    nothingWasChanged: "Nothing was changed",
    chooseWorkArea: "Choose a work area",
    pageMayHaveMoved:
      "The page may have moved, or what it showed is not open to you. A serial, batch or stream is found fastest with the search field.",
  },
  layout: {
    bottomBracketShellsMeasured: "Bottom-bracket shells measured, judged and released.",
    goToContent: "Go to the content",
  },
  firstSteps: {
    nobodyHasRoleForYet: "Nobody has a role for this yet: an administrator gives it under People.",
    orMore: (count: number) => ` or ${count} more`,
    ask: (names: string, others: string) => `Ask ${names}${others}.`,
    beforeFirstFrame: "Before the first frame",
    ofAreBeforeFirstFrame: (there: number, count: number) => `${there} of ${count} are there before the first frame`,
    there: "there",
    missing: "missing",
  },
  journalLink: {
    entriesOfJournal: "Entries of the journal",
  },
  signOut: {
    signOut: "Sign out",
  },
};
