import { DEMONSTRATION_DRAWINGS, findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import type { FileInspection, ReadOptions } from "@/lib/schemas/measurement-file/file-inspection";
import { readMeasurementFile, type ReadResult } from "@/lib/schemas/measurement-file/read-measurement-file";

export type ReadText = ReadResult & { readonly found: readonly FileInspection[] };

/** Reads the text of a measurement file, in pieces of `chunk` bytes. */
export async function readText(
  text: string | Uint8Array,
  options: Partial<ReadOptions> = {},
  chunk = 1 << 16,
): Promise<ReadText> {
  const bytes = typeof text === "string" ? new TextEncoder().encode(text) : text;
  const pieces: Uint8Array[] = [];
  for (let at = 0; at < bytes.length; at += chunk) pieces.push(bytes.subarray(at, at + chunk));
  const found: FileInspection[] = [];
  const result = await readMeasurementFile(pieces, {
    file: "shift.csv",
    findDrawing: findDemonstrationDrawing,
    knownDrawings: DEMONSTRATION_DRAWINGS.map(({ key }) => key),
    drawing: findDemonstrationDrawing("press-fit-41"),
    zone: null,
    onInspection: (inspection) => void found.push(inspection),
    ...options,
  });
  return { ...result, found };
}

/** Rows joined to a file. */
export function lines(...rows: string[]): string {
  return rows.map((row) => `${row}\n`).join("");
}
