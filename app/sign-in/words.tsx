import type { ReactNode } from "react";

/** Texts of signing in. */
export const SIGN_IN_WORDS = {
  page: {
    signIn: "Sign in",
    shellgate: "Shellgate",
    whoIsAtBench: "Who is at the bench?",
    plant: "plant",
    inventedForDemonstration: "invented, for demonstration",
    peopleOfPlantOnly: "people of the plant only",
    signInLabel: "sign-in",
    eMailAndPassword: "e-mail and password",
    noSignInYet: "no sign-in yet",
    askAdministratorOfYourPlant: "ask an administrator of your plant",
    badge: "badge",
    identifiesInspector: "identifies the inspector; it cannot sign",
  },
  demo: {
    orAsOneOfInvented: (password: ReactNode) => <>Or as one of the invented people {password}</>,
    password: (password: string) => `password ${password}`,
    signInAs: "Sign in as",
  },
  sketch: {
    width: "width",
    nds: "NDS",
    ds: "DS",
  },
  form: {
    eMail: "e-mail",
    password: "password",
    tooManyTries: "Too many tries",
    notSignedIn: "Not signed in",
    signingIn: "Signing in",
    signIn: "Sign in",
  },
};
