import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { ReferenceData } from "../evidence/reference-data";
import type { AlarmScheme } from "./alarm-scheme";
import { boreReadingsOf, type FrameGroup } from "./watched-frames";

/** What the run of a group needs beside its frames. */
export type WatchGrounds = {
  readonly drawing: ShellDrawing;
  readonly boreReadings: number;
  readonly schemes: readonly AlarmScheme[];
  /** See RunSettings. */
  readonly unknownWearSd: number;
};

/** Diameters of a seat by the plan of the drawing that reads most. */
export function boreReadings({ plans }: ReferenceData, { drawingId }: FrameGroup): number {
  const counts = [...plans.values()]
    .filter((one) => one.drawingId === drawingId)
    .map(({ names }) => boreReadingsOf(names));
  return Math.max(2, ...counts);
}
