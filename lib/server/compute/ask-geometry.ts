import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { answerByThread } from "./answer-by-thread";

/**
 * Answers POST /api/v1/geometry: who may ask is asked here, everything else in the computing thread.
 *
 * @throws AppError forbidden, too-large, unsupported-media-type, unavailable, invalid-input, not-found
 */
export function askGeometry(viewer: Viewer, request: Request): Promise<Response> {
  assertMay(viewer, "records.view");
  return answerByThread("geometry", request, 2 ** 20);
}
