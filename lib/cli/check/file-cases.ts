import { unresolvedWords } from "@/lib/format/baseline-words";
import { caseSignals } from "@/lib/quality/alarm/case-signals";
import type { Case, CaseFrame, CaseLine, LabelName } from "@/lib/quality/cases/case";
import { caseStreams, outsideOf } from "@/lib/quality/cases/case-streams";
import { gatherCases } from "@/lib/quality/cases/gather-cases";
import { shiftsOf } from "@/lib/quality/cases/shifts-of";
import { type AlarmedGroup, alarmsOfFile } from "./file-alarms";
import { FILE_LABELS, type FileGroup } from "./file-groups";

/** A case of a file with the frames of its line, and the batches in which they lie. */
export type FileCase = {
  readonly found: Case;
  readonly serials: readonly string[];
  readonly batches: readonly (string | null)[];
};

function labelsOf(group: FileGroup, frame: number, shift: string | null): CaseFrame["labels"] {
  const labels: Partial<Record<LabelName, string>> = {};
  for (const label of FILE_LABELS) {
    const text = group.labels[label][frame] ?? null;
    if (text !== null) labels[label] = text;
  }
  return shift === null ? labels : { ...labels, shift };
}

function caseLine({ group, order, streams, columns }: AlarmedGroup): CaseLine {
  const shifts = shiftsOf(order.map((frame) => group.times[frame] ?? null));
  const frames = order.map((frame, place): CaseFrame => ({
    serial: group.serials[frame] ?? "",
    labels: labelsOf(group, frame, shifts[place] ?? null),
    outside: outsideOf(columns, streams, place),
  }));
  const { line, operation } = group;
  const known = { line, operation, frames, streams: caseStreams(columns, streams) };
  return { ...known, events: [], zeroChecks: [], closed: {}, ownCauses: [] };
}

/** What a file's streams tell: their cases, and what keeps them from telling more. */
type FileTold = { readonly cases: readonly FileCase[]; readonly warnings: readonly string[] };

/**
 * The cases of a file: every change that its streams tell, with its likely causes.
 *
 * @param budget - false cases per 1,000 frames of all streams together, > 0
 */
export function casesOfFile(groups: readonly FileGroup[], budget: number): FileTold {
  const alarmed = alarmsOfFile(groups, budget);
  const cases = alarmed.flatMap((one) => {
    const signals = caseSignals(one.streams, one.columns);
    if (signals.length === 0) return [];
    const serials = one.order.map((frame) => one.group.serials[frame] ?? "");
    const batches = one.order.map((frame) => one.group.batches[frame] ?? null);
    return gatherCases(caseLine(one), signals).map((found) => ({ found, serials, batches }));
  });
  const warnings = alarmed.flatMap(({ group, streams }) => {
    const coarse = streams.filter(({ isUnresolved }) => isUnresolved === true).map(({ stream }) => stream.key);
    return coarse.length === 0 ? [] : [unresolvedWords(group.line, coarse)];
  });
  return { cases, warnings };
}
