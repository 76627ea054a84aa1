import { createKeyTable } from "@/lib/schemas/measurement-file/key-table";
import type { FileInspection } from "@/lib/schemas/measurement-file/file-inspection";

/** What the first pass over a file has to know for the second: inspections per frame, readings due per batch. */
export type FileIndex = {
  readonly add: (inspection: FileInspection) => void;
  /** How many inspections the frame of this one has, at its operation. */
  readonly inspectionsOf: (inspection: FileInspection) => number;
  /** A number for the frame of an inspection at its operation, from 0. */
  readonly frameOf: (inspection: FileInspection) => number;
  /** Keys of the readings that are used in the batch at its operation, in the order of the file. */
  readonly dueIn: (inspection: FileInspection) => ReadonlySet<string>;
};

function batchKey({ texts }: FileInspection): string {
  return `${texts.batch ?? ""}\u0000${texts.operation ?? ""}`;
}

/** Starts an empty index; it grows by some bytes a frame. */
export function createFileIndex(): FileIndex {
  const frames = createKeyTable();
  const inspections: number[] = [];
  const due = new Map<string, Set<string>>();

  const frameOf = ({ serial, texts }: FileInspection) => frames.numberOf(`${serial}\u0000${texts.operation ?? ""}`);

  function add(inspection: FileInspection): void {
    const frame = frameOf(inspection);
    inspections[frame] = (inspections[frame] ?? 0) + 1;
    const key = batchKey(inspection);
    let used = due.get(key);
    if (!used) {
      used = new Set();
      due.set(key, used);
    }
    if (used.size === inspection.columns.length) return;
    for (const [index, column] of inspection.columns.entries())
      if (inspection.values[index] !== null) used.add(column.key);
  }

  return {
    add,
    frameOf,
    inspectionsOf: (inspection) => inspections[frameOf(inspection)] ?? 0,
    dueIn: (inspection) => due.get(batchKey(inspection)) ?? new Set(),
  };
}
