import "server-only";
import type pg from "pg";
import { isFramePlanned, type PlannedFrames } from "@/lib/core/sampling/planned-frames";
import { findDrawn } from "../line/draw-sample";

type Placed = { readonly serial: string; readonly position: number };

export type FramesAskedFor<T extends Placed> = {
  /** Frames that have to be measured before the batch is complete. Before its sample is drawn that may be any. */
  readonly frames: readonly T[];
  /** How many the plan asks for. */
  readonly count: number;
  /** False while a sample is to be drawn and nobody who measures has opened the batch. */
  readonly isDrawn: boolean;
};

/**
 * The frames of a batch that its plan asks to measure: these very ones, not as many of any.
 *
 * @param batch - with the number of all its frames
 * @param frames - those among which is looked
 */
export async function framesAskedFor<T extends Placed>(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batch: { readonly key: string; readonly due: PlannedFrames; readonly size: number },
  frames: readonly T[],
): Promise<FramesAskedFor<T>> {
  const { kind, size = frames.length } = batch.due;
  if (kind !== "drawn") {
    const asked = frames.filter((frame) => isFramePlanned(batch.due, frame.position, batch.size, null));
    return { frames: asked, count: asked.length, isDrawn: true };
  }
  const serials = await findDrawn(db, plantId, { key: batch.key, size });
  if (serials === null) return { frames, count: Math.min(size, frames.length), isDrawn: false };
  const drawn = new Set(serials);
  const asked = frames.filter((frame) => drawn.has(frame.serial));
  return { frames: asked, count: asked.length, isDrawn: true };
}
