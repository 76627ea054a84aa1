/** Texts of the first page of an empty plant. */
export const NEW_PLANT_WORDS = {
  page: {
    setUp: "Set up",
    shellgate: "Shellgate",
    newPlant: "A new plant",
    linkWorksOnce:
      "This link works once. You become the first administrator, and an engineer too, so that drawings and plans can be made before anybody else is there. Everybody else gets a sign-in from you.",
    setUpLinkDoes: "This set-up link does not work any more",
    signIn: "Sign in",
    wasUsed:
      "It was used, has expired after 24 hours, or a newer one was made. If the plant is not set up yet, start Shellgate again: it prints a new link.",
  },
  form: {
    nameOfPlant: "name of the plant",
    timeZoneOfPlant: "time zone of the plant",
    timeZoneExample: "Europe/Lisbon",
    yourName: "your name",
    yourEMail: "your e-mail",
    aPassword: "a password, 12 characters or more",
    notSetUpYet: "Not set up yet",
    lookAtFieldsMarkedAbove: "Look at the fields marked above. Nothing was changed.",
    settingUp: "Setting up",
    setUpPlant: "Set up the plant",
  },
};
