import type { ReadingKind } from "@/lib/core/metrology/reading-name";

/** Kinds of reading as headings. */
export const KIND_WORDS = {
  bore: "Diameters",
  sweep: "Sweep",
  face: "Faces",
  width: "Widths",
  plug: "Plug gauges",
  bar: "Gauge bar",
} as const satisfies Record<ReadingKind, string>;
