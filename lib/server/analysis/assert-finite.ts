import "server-only";
import { AppError } from "@/lib/errors";

/**
 * JSON would turn what is not finite into null without a word.
 *
 * @throws AppError invalid-input for a result beyond double precision
 */
export function assertFinite(result: unknown): void {
  if (typeof result === "number" && !Number.isFinite(result)) {
    throw new AppError("invalid-input", "These numbers give a result too large to be stated. Nothing was changed.");
  }
  if (typeof result !== "object" || result === null) return;
  for (const part of Object.values(result)) assertFinite(part);
}
