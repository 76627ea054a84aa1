import type { ActionError } from "@/lib/schemas/action-result";

/**
 * What a form says of a refusal as a whole. Where every problem stands at its field, the fields say it better than the server's
 * sentence about places in the data.
 */
export function refusalWords({ code, message, fields = [] }: ActionError, everyProblemMarked: boolean): string {
  if (code !== "invalid-input" || !everyProblemMarked || fields.length === 0) return message;
  const many = fields.length > 1 ? `${fields.length} entries are` : "One entry is";
  return `${many} not right yet and marked. Nothing was changed.`;
}
