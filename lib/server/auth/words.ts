import "server-only";

/** Texts that the room auth says to people, by the file that says them. */
export const AUTH_WORDS = {
  deviceTie: {
    deviceWhichSendsWithToken: (device: string) =>
      `Device ${device}, which sends with this token, was taken out of use. Nothing was stored. Send from a device in use and name it, or use a token of its own.`,
  },
  keptApart: {
    somebodyHasToOnAnother: (act: string) => `somebody has to ${act} on another device`,
    somebodyElseHasTo: (act: string) => `somebody else has to ${act}`,
    nothingWasChanged: (because: string, how: string) => `${because}: ${how}. Nothing was changed.`,
  },
  knownHosts: {
    shellgateDoesNotAnswer: (stranger: string) =>
      `Shellgate does not answer under the name ${stranger}. Nothing was changed. Use the address that the start command shows; `,
    furtherOneIsNamed: "a further one is named in SHELLGATE_OTHER_ORIGINS.",
  },
  password: {
    mustNotBePassword: "must not be the password of the demo plant, which everybody can read",
    passwordNothingWasChanged: (message: string) => `The password ${message}. Nothing was changed.`,
  },
  permissions: {
    signInFirst: "Sign in first. Nothing was changed.",
    deviceWasTakenOut:
      "This device was taken out of use. Nothing was stored; what is on it stays there: save it to a file and call the engineer.",
    mayNotNothingWasChanged: (viewer: string, inWords: string, whoHelps: string) =>
      `${viewer} may not ${inWords}. Nothing was changed. ${whoHelps}`,
    needsPersonWhoSigned: "This needs a person who signed in with a password. Nothing was changed.",
  },
  signIn: {
    eMailOrPassword: "The e-mail or the password is not right. Check both and try again.",
    demoSignInsWork:
      "The demo sign-ins work on the machine that Shellgate runs on, not over the network. Use your own sign-in, or ask whoever started Shellgate to allow them.",
  },
  signature: {
    isNotYourPassword: "is not your password",
  },
  tries: {
    tooManyPasswordsWereTried: (seconds: number) =>
      `Too many passwords were tried. Wait ${seconds} s and try again from here; elsewhere it is not held up, and nothing was lost.`,
  },
};
