import type { AppErrorCode } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import { ERROR_TEXT } from "@/lib/format/error-text";
import type { SendRefusal } from "@/lib/offline/device/device-database";

/** Why the server did not take an entry, for the person who decides about it: what happened, and what each key does. */
export function refusalWords(
  refusal: SendRefusal | null,
  zone: string,
): { readonly title: string; readonly text: string } {
  if (refusal === null) return { title: "The server refused it", text: "" };
  const { code, message, details } = refusal;
  if (typeof details.measuredBefore === "string")
    return {
      title: "It was measured elsewhere meanwhile",
      text: `Another inspection of it was recorded, of ${formatMoment(details.measuredBefore, { zone })}. If this one counts, too, say why and send it again: all valid inspections then decide together. Put aside, it stays on this device only.`,
    };
  if (code === "frame-leased" && typeof details.device === "string")
    return {
      title: "It is in hand on another device",
      text: `Device ${details.device} has it. When it is finished or given up there, say why this inspection counts, too, and send it again.`,
    };
  if (details.clock === true)
    return {
      title: "The clock of this device was wrong",
      text: "The server could not tell when it was measured. Sent again, it goes with the distance between the clocks as it is known now; both times stay in the record.",
    };
  if (typeof details.badge === "string")
    return {
      title: `Badge ${details.badge} belongs to nobody any more`,
      text: "Scan a badge that is in use, then say why and send it again: the readings go under the name of who is at the station now, and the reason names the old badge.",
    };
  return {
    title: code in ERROR_TEXT ? ERROR_TEXT[code as AppErrorCode].title : "The server refused it",
    text: message,
  };
}
