import "server-only";

/** Texts that the room attachments says to people, by the file that says them. */
export const ATTACHMENTS_WORDS = {
  commands: {
    inspectionOfPhoto:
      "The inspection of this photo is not here. Nothing was stored; the photo is still on the device. Send the inspection first.",
    anotherPhotoWithKey: (input: string) =>
      `Another photo with the key ${input} is here. Nothing was stored; the photo is still on the device.`,
  },
  queries: {
    isNoSuchAttachment: "There is no such attachment.",
  },
};
