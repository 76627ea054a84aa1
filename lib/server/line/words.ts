import "server-only";

/** Texts that the room line says to people, by the file that says them. */
export const LINE_WORDS = {
  devices: {
    isNoDevice: (id: string) => `There is no device ${id}. Nothing was changed.`,
  },
  queries: {
    stationWasChangedJustNow: "This station was changed just now. Ask again.",
  },
  reportDevice: {
    deviceWasTakenOut:
      "This device was taken out of use. Its readings are kept on it: save them to a file and call the engineer.",
  },
  stationInUse: {
    stationIsNotKnown: "This station is not known. Choose the station again.",
    isOutOfUse: (station: string) =>
      `${station} is out of use. What this device has stays on it and is sent when an engineer puts the station back into use in Setup. To measure on, choose another station.`,
  },
};
