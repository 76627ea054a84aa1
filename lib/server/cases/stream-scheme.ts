import "server-only";
import { AppError } from "@/lib/errors";
import type { StreamScheme } from "@/lib/quality/alarm/stream-scheme";
import { schemeOf } from "@/lib/quality/alarm/stream-scheme";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { inSqlTransaction } from "../db/transaction";
import { getReferenceData } from "../evidence/reference-data";
import { BASELINE_FRAMES, findWatch, standingOf } from "./advance-watch";
import { readBaselineHead, readWatchGrounds } from "./propose-baseline";

/** How a stream is tested now; null where its frames are not looked at yet, or its drawing is not released. */
export async function readStreamScheme(viewer: Viewer, streamId: string): Promise<StreamScheme | null> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const reference = await getReferenceData(plantId);
  try {
    return await inSqlTransaction(async (db) => {
      const head = await readBaselineHead(db, plantId, streamId);
      const watch = await findWatch(db, plantId, head);
      if (watch === null) return null;
      const grounds = await readWatchGrounds(db, plantId, head, reference);
      const { streams } = await standingOf(db, plantId, watch, grounds);
      return schemeOf(
        streams.find(({ key }) => key === head.stream.key),
        BASELINE_FRAMES,
      );
    });
  } catch (error) {
    if (error instanceof AppError && error.code === "refused") return null;
    throw error;
  }
}
