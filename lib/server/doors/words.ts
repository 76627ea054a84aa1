import "server-only";

/** Texts that the room doors says to people, by the file that says them. */
export const DOORS_WORDS = {
  action: {
    isMore: (most: number) =>
      `This is more than can be taken at once (${most} thousand characters). Nothing was changed; send less at a time.`,
    youAreSignedOut: "You are signed out. Sign in and try again.",
  },
  failure: {
    somethingUnexpectedHappened: (eventId: string) =>
      `Something unexpected happened. It was logged as ${eventId}. Nothing of this request was kept; try again, and give that number to whoever looks after Shellgate if it stays.`,
    nothingWasChanged: (message: string) => `${message}. Nothing was changed.`,
    somebodyElseWasWritingSame: "Somebody else was writing the same thing. Nothing was changed; try again.",
  },
  httpDoor: {
    sayHowLongBody: "Say how long the body is (Content-Length). Nothing was kept.",
    isMoreThanSomebody: "This is more than somebody can send who is not signed in. Nothing was changed; sign in first.",
    isMoreThan1Mb: "This is more than 1 MB and cannot be taken at once. Nothing was changed; send it in smaller parts.",
    requestHasOneHost: "A request has one Host. Nothing was changed.",
  },
  route: {
    apiTokenIsUnknown: "The API token is unknown, revoked or expired. Nothing was kept.",
    signIn: "Sign in, or send an API token as `Authorization: Bearer sg_...`. Nothing was kept.",
    addressTakes: (allowed: string, method: string) =>
      `This address takes ${allowed}, not ${method}. Nothing was changed.`,
  },
};
