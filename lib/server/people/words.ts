import "server-only";

/** Texts that the room people says to people, by the file that says them. */
export const PEOPLE_WORDS = {
  accountRows: {
    isSomebodyElses: "is somebody else's",
    alreadyHasSignIn: "already has a sign-in",
    badgeCode: "This badge code",
    eMail: "This e-mail",
  },
  commands: {
    isNoSuchPerson: "There is no such person in this plant.",
    isLastAdministrator:
      "This is the last administrator who can sign in. Make somebody else an administrator first. Nothing was changed.",
    personIsDeactivatedAlready: "This person is deactivated already.",
    yourOwnPasswordIsChanged:
      "Your own password is changed under your own name, with the current one. Nothing was changed.",
    doesNotSignIn: (person: string) => `${person} does not sign in, so there is no password. Nothing was changed.`,
    isNotActive: (person: string) => `${person} is not active. Nothing was changed.`,
    signsInAlready: (person: string) => `${person} signs in already. Nothing was changed; set a new password instead.`,
    doesNotSignInPerson: (person: string) => `${person} does not sign in. Nothing was changed; give a sign-in instead.`,
    passwordWasChangedMeanwhile: "The password was changed meanwhile. Sign in again.",
  },
  newPlant: {
    setUpLinkWasUsed:
      "This set-up link was used, has expired or was replaced by a newer one. Nothing was changed. Start Shellgate again to get a new link, or sign in if the plant is set up.",
  },
  roleRequests: {
    youTookAnotherAdministratorAway: (recentHours: number) =>
      `You took another administrator away within the last ${recentHours} hours. Until they are over, your own roles cannot be changed without a second one. Nothing was changed.`,
    youGotYourSignIn: (recentHours: number) =>
      `You got your sign-in, your password or your role from who asks, within the last ${recentHours} hours. Another administrator has to confirm it, or you after that time. Nothing was changed.`,
    requestDoesNotStandAny: "This request does not stand any more. Nothing was changed; look again.",
    youAskedFor: "You asked for it: another administrator has to confirm it. Nothing was changed.",
    thenNobodyCouldManagePeople: "Then nobody could manage people any more. Nothing was changed.",
  },
};
