import { formatCounted } from "@/lib/format/number-text";

/** Texts of the list of messages. */
export const MESSAGE_WORDS = {
  list: {
    forMe: "For me",
    ago: (now: string) => `${now} ago`,
    openIt: "Open it",
    saveMessageAsMailFile: (title: string) => `Save as a mail file: ${title}`,
    saveAsMailFile: "Save as a mail file",
    nothingWaitsForYou: "Nothing waits for you",
    forYou: (messages: number) => `${formatCounted(messages, "message")} for you`,
    lead: "What happened, what to do, and where. Acknowledged by one, it is off the list of everybody whom it is for.",
    whoIsToldWhat: "Who is told what",
    isQuiet: "It is quiet",
    whenBatchIsHeld:
      "When a batch is held, a gauge fails or a shipped frame is in doubt, those who can act find it here.",
    last50: "the last 50",
    acknowledged: "Acknowledged",
    acknowledgedMessages: "Acknowledged messages",
    message: "message",
    happened: "happened",
    acknowledgedBy: "acknowledged by",
    when: "when",
  },
  acknowledge: {
    acknowledgeMessage: (title: string) => `Acknowledge: ${title}`,
    acknowledge: "Acknowledge",
    notAcknowledged: "Not acknowledged",
  },
};
