import "server-only";

/** Texts that the room messages says to people, by the file that says them. */
export const MESSAGES_WORDS = {
  addressGuard: {
    isNoAddress: (address: string) => `${address} is no address`,
    isAddressNoWebhook: (address: string) => `${address} is an address that no webhook may call`,
    isInPlantsOwnNetwork: (address: string) =>
      `${address} is in the plant's own network, which Setup, Messages does not allow`,
  },
  callWebhook: {
    leadsToAnotherAddress: "It leads to another address, which is not followed. ",
    noAnswerWithin10Seconds: "No answer within 10 seconds.",
    notReached: (header: string) => `Not reached: ${header}`,
  },
  inbox: {
    isNoSuchMessage: "There is no such message for you.",
    isNoSuchMessageForYou: "There is no such message for you. Nothing was changed.",
  },
  jobs: {
    tellOfWhatHappened: "tell of what happened",
    sendMails: "send mails",
    callWebhook: "call a webhook",
    lookForWhatSomebodyShould: "look for what somebody should know",
  },
  mailTransport: {
    certificateOfMailServer: "The certificate of the mail server is not trusted by this machine",
    mailWasNotTaken: "The mail was not taken",
  },
  sendWebhooks: {
    notCalled:
      "Not called: its secret cannot be read, since the plant's key is another one now. Make a new secret in Setup, Messages.",
  },
  sendingCommands: {
    passwordNeedsUser: "A password needs a user. Nothing was changed.",
    mustBeGivenWithPassword: "must be given with a password",
    userNeedsPassword: "This user needs its password. Nothing was changed.",
    mustBeGivenForNew: "must be given for a new server or user",
    isNoMailServerYet: "There is no mail server yet. Enter it first.",
    youHaveNoAddress: "You have no address to which a mail could go.",
    mailFromShellgateWorks: "Mail from Shellgate works",
    noMailWasSent: (answer: string) => `${answer} No mail was sent. Mend the settings and try again.`,
    lookIntoMailboxOf: (answer: string, address: string) =>
      `${answer} Look into the mailbox of ${address}; if nothing comes, look at what it takes for unwanted mail.`,
    personIsNotOfPlant: "This person is not of the plant, or has left. Nothing was changed.",
    lineIsNotKnown: "This line is not known. Nothing was changed.",
    isNothingCanBeTold: "This is nothing that can be told. Nothing was changed.",
    mustBeOfThose: "must be of those that are shown",
    areSubscriptionsAlready: (mostSubscriptions: number) =>
      `There are ${mostSubscriptions} subscriptions already. Nothing was changed. Take one away first.`,
    isNoSuchSubscriptionAny: "There is no such subscription any more. Nothing was changed.",
    isNoSuchMailFailed: "There is no such mail that failed. Nothing was changed.",
  },
  sendingQueries: {
    isNoSuchWebhook: "There is no such webhook.",
  },
  webhookCommands: {
    addressCannotBeCalled: "This address cannot be called. Nothing was changed.",
    areWebhooksAlready: (mostWebhooks: number) =>
      `There are ${mostWebhooks} webhooks already. Nothing was changed. Change one that is paused.`,
    isNoSuchWebhook: "There is no such webhook. Nothing was changed.",
    somebodyElseChangedWebhookSince:
      "Somebody else changed this webhook since you opened the page. Nothing was changed. Look again.",
    isNoSuchEvent: "There is no such event in the log. Nothing was changed.",
  },
};
