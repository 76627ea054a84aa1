import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { answerByThread } from "./answer-by-thread";

/**
 * Answers POST /api/v1/gauge-studies/analysis: who may ask is asked here, everything else in the computing thread.
 *
 * @throws AppError forbidden, too-large, unsupported-media-type, unavailable, invalid-input; CoreError
 */
export function askGaugeStudy(viewer: Viewer, request: Request): Promise<Response> {
  assertMay(viewer, "gauges.view");
  return answerByThread("gauge-study", request, 4 * 2 ** 20);
}
