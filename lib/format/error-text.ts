import type { AppErrorCode } from "@/lib/errors";

/** What a person reads when a request fails: what happened, then what was kept and what to do next. */
export type ErrorText = { readonly title: string; readonly next: string };

export const ERROR_TEXT = {
  "invalid-input": {
    title: "Something in what was sent is not right",
    next: "Nothing was recorded. Correct what is marked and send it again.",
  },
  "not-signed-in": {
    title: "You are not signed in",
    next: "Nothing was changed. Sign in and do it again; readings on this device are kept.",
  },
  "sign-in-refused": {
    title: "Name and password do not fit together",
    next: "Try again. An administrator can set a new password.",
  },
  forbidden: {
    title: "Your role may not do this",
    next: "Nothing was changed. Ask somebody whose role includes it.",
  },
  "not-found": {
    title: "There is no such record",
    next: "Check the serial or number, or look for it with the search field.",
  },
  "method-not-allowed": {
    title: "This address is not used in that way",
    next: "Nothing was changed. The programs' guide says which method each address takes.",
  },
  conflict: {
    title: "Somebody changed this meanwhile",
    next: "Nothing of yours was recorded. Load the page again, look at the change, and decide again.",
  },
  "already-recorded-differently": {
    title: "This inspection was already recorded with other readings",
    next: "The first record stands and both are kept. Compare them and measure again with a reason if needed.",
  },
  "plan-changed": {
    title: "The measuring plan was revised meanwhile",
    next: "The readings are kept on this device. Load the new plan and measure what it asks in addition.",
  },
  "wrong-batch": {
    title: "This frame belongs to another batch",
    next: "Nothing was recorded. Scan again, or choose the frame’s own batch.",
  },
  "already-shipped": {
    title: "This frame has already shipped",
    next: "The readings are kept as evidence. The supplier manager is told and decides.",
  },
  "frame-leased": {
    title: "This frame is being measured on another device",
    next: "Finish it there, or wait until that device lets it go.",
  },
  refused: {
    title: "This was refused by a rule of the gate",
    next: "Nothing was changed. The reasons say what clears it.",
  },
  "length-required": {
    title: "It was not said how much would be sent",
    next: "Nothing was recorded. Programs name the length of the body before they send it.",
  },
  misdirected: {
    title: "This plant is not known under this name",
    next: "Nothing was changed. Use the address that the start command shows.",
  },
  "too-large": {
    title: "This is too large to take at once",
    next: "Nothing was recorded. Send it in smaller parts.",
  },
  "unsupported-media-type": {
    title: "This kind of file or message is not taken",
    next: "Nothing was recorded. Send JSON, or CSV where a file is asked for.",
  },
  "too-many-requests": {
    title: "Too many attempts in a short time",
    next: "Wait as long as it says and try again; nothing was lost.",
  },
  unavailable: {
    title: "The server cannot be reached",
    next: "Readings stay on this device and are sent when it is back.",
  },
  "storage-full": {
    title: "The server has no room left to write",
    next: "Nothing was recorded. Readings stay on this device; have room made on the server’s disk, then they are sent.",
  },
  unexpected: {
    title: "Something failed that should not",
    next: "What was recorded before is kept. Try again; if it stays, give the reference to whoever looks after the program.",
  },
} as const satisfies Record<AppErrorCode, ErrorText>;
