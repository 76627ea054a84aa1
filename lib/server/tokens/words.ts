import "server-only";

/** Texts that the room tokens says to people, by the file that says them. */
export const TOKENS_WORDS = {
  commands: {
    tokenWouldHaveExpiredAlready: "The token would have expired already. No token was made.",
    mustBeInFuture: "must be in the future",
    isNoSuchApiToken: "There is no such API token in this plant.",
    apiTokenIsRevokedAlready: "This API token is revoked already.",
  },
};
