import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { answerByThread } from "./answer-by-thread";

/**
 * Answers POST /api/v1/analysis: who may ask is asked here, everything else in the computing thread.
 *
 * @throws AppError forbidden, too-large, unsupported-media-type, unavailable, invalid-input; CoreError
 */
export function askAnalysis(viewer: Viewer, request: Request): Promise<Response> {
  assertMay(viewer, "drift.view");
  return answerByThread("analysis", request, 4 * 2 ** 20);
}
