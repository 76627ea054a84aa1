import "server-only";
import { AppError } from "@/lib/errors";
import { ANALYSIS_WORDS } from "./words";

const words = ANALYSIS_WORDS.assertFinite;

/**
 * JSON would turn what is not finite into null without a word.
 *
 * @throws AppError invalid-input for a result beyond double precision
 */
export function assertFinite(result: unknown): void {
  if (typeof result === "number" && !Number.isFinite(result)) {
    throw new AppError("invalid-input", words.theseNumbersGiveResult);
  }
  if (typeof result !== "object" || result === null) return;
  for (const part of Object.values(result)) assertFinite(part);
}
