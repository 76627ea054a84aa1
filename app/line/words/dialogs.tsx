import type { ReactNode } from "react";
import { formatCounted } from "@/lib/format/number-text";

/** Texts of the dialogs of Line: what waits to be sent, and reasons. */
export const LINE_DIALOG_WORDS = {
  queue: {
    notKnown: "not known",
    mb: (bytes: string) => `${bytes} MB`,
    zeroCheck: (gauge: string) => `zero check ${gauge}`,
    whyIsSentAgain: "Why it is sent again",
    sendAgain: "Send again",
    putAside: "Put aside",
    held: ", held",
    batchIsHeld: (batch: string) => `; batch ${batch} is held`,
    devicesResultWas: (deviceVerdict: string) =>
      `This device’s result was “${deviceVerdict}”. The server’s is the record: report this fault to whoever looks after Shellgate.`,
    whatIsOnDevice: "What is on this device",
    close: "Close",
    sendNow: "Send now",
    saveToFile: "Save to a file",
    loadFromFile: "Load from a file",
    youAreSignedOut: "You are signed out. Everything here stays; it is sent as soon as somebody has signed in.",
    signIn: "Sign in",
    isPutAside: (gauge: ReactNode) => <>{gauge} is put aside: the server does not have it.</>,
    decideAgain: "Decide again",
    answersToRead: "Answers to read",
    read: "Read",
    storageOfDeviceIsNearly:
      "The storage of this device is nearly full. Delete what is not needed on it, or send the queue: readings are refused when there is no room to keep them.",
    waitingToBeSent: "waiting to be sent",
    oldest: (frames: number, zeroChecks: string, now: string) =>
      `${formatCounted(frames, "frame")}${zeroChecks}, oldest ${now}`,
    andZeroChecks: (zeroChecks: number) => ` and ${formatCounted(zeroChecks, "zero check")}`,
    photosToBeSent: "photos to be sent",
    startedNotFinished: "started, not finished",
    clockOfDevice: "clock of this device",
    notComparedYet: "not compared yet",
    sServerS: (skewMs: string, behind: string, uncertaintyMs: string) =>
      `${skewMs} s ${behind} the server, ±${uncertaintyMs} s`,
    behind: "behind",
    aheadOf: "ahead of",
    storage: "storage",
    ofKeptForGood: (usedBytes: string, quotaBytes: string, keptForGood: string) =>
      `${usedBytes} of ${quotaBytes}, ${keptForGood}`,
    keptForGood: "kept for good",
    browserMayClearWhenSpace: "the browser may clear it when space is short",
    device: "device",
    notNamedYet: "not named yet",
    keyOfDevice: "key of the device",
  },
};
