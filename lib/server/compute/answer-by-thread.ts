import "server-only";
import { readJsonBytes } from "../base/request-body";
import { compute } from "./compute";

/**
 * Hands a request's body to the computing thread as it came, and its answer back as it is: nothing of it, however large, is
 * parsed by the thread that answers everybody.
 *
 * @throws AppError too-large, unsupported-media-type, unavailable; what the task throws
 */
export async function answerByThread(
  task: "analysis" | "geometry" | "gauge-study",
  request: Request,
  maxBodyBytes: number,
): Promise<Response> {
  const answer = await compute(task, await readJsonBytes(request, maxBodyBytes));
  return new Response(answer, { headers: { "content-type": "application/json", "cache-control": "no-store" } });
}
