import { formatLimits, formatValue } from "@/lib/format/number-text";
import { answerWords, causeWhy, changeWords } from "@/lib/format/case-words";
import { noLimitsText, streamText } from "@/lib/format/signal-words";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { countText, serialsText } from "@/lib/format/value-text";
import { problemSentence } from "@/lib/schemas/measurement-file/file-problem";
import type { CheckOutcome } from "./check-file";
import { caseCharacteristics } from "@/lib/quality/cases/case-characteristics";
import type { FileCase } from "./file-cases";
import type { FileStream } from "./file-streams";
import type { JudgedFrame } from "./judge-file-frame";
import { capabilityText, signalWords, streamNumber } from "./stream-words";

const MARK = { conforms: "○", "not proven": "◐", "not measured": "◌", "does not conform": "⊖" } as const;

/** Frames that are written out in full; the rest is counted. */
export const FRAMES_IN_FULL = 40;
const PROBLEMS_IN_FULL = 50;

/** Where the worst value is: the reading, the direction, or the clock position seen from the drive side. */
export function placeText(at: string | null): string {
  if (at === null) return "";
  return /^\d+$/.test(at) ? ` at ${at} o'clock` : ` at ${at}`;
}

/** A characteristic that is not plainly good: value, limits and U where it has one, and the reason where there is one. */
export function judgedText(judged: ToldCharacteristic): string {
  const seat = judged.seat === null ? "" : `${judged.seat.toUpperCase()} `;
  const head = `${seat}${judged.name} ${judged.verdict}`;
  if (judged.value === null) return `${head}: ${judged.reason ?? "no value"}`;
  const value = formatValue(judged.value, judged.unit, judged.unit === "µm" ? { digits: 1 } : {});
  const limits = formatLimits(judged.lower, judged.upper, judged.unit);
  const u = formatValue(judged.uncertainty, judged.unit, { digits: judged.unit === "mm" ? 4 : 1 });
  const why = judged.reason === undefined ? "" : `; ${judged.reason}`;
  return `${head}: ${value}${placeText(judged.at)}, limits ${limits}, U ${u}${why}`;
}

/** Characteristics that a frame's lines name; what was not measured for a reading that is missing is said once for the frame. */
export function namedCharacteristics({ judgement, notMeasured }: JudgedFrame): readonly ToldCharacteristic[] {
  return judgement.characteristics.filter(
    ({ verdict, value, reason }) =>
      verdict !== "conforms" &&
      (value !== null || (reason !== undefined && !(verdict === "not measured" && notMeasured !== null))),
  );
}

/** One frame that is not plainly good, with every characteristic that is not. */
export function frameLines(frame: JudgedFrame): string[] {
  const { inspection, verdict, notMeasured, doubts } = frame;
  const batch = inspection.texts.batch === undefined ? "" : `  batch ${inspection.texts.batch}`;
  const lines = [`  ${MARK[verdict]} ${inspection.serial}${batch}  row ${inspection.row}  ${verdict}`];
  if (notMeasured !== null) lines.push(`      not measured: ${notMeasured}`);
  for (const judged of namedCharacteristics(frame)) lines.push(`      ${judgedText(judged)}`);
  for (const doubt of doubts) lines.push(`      ${doubt}`);
  return lines;
}

function streamLines(stream: FileStream): string[] {
  const { subject, evaluation, capability, values, leftOut } = stream;
  const { limits, reason, signals } = evaluation;
  const number = (value: number | null) => streamNumber(value, subject.unit);
  const basis =
    limits === null
      ? ""
      : `${limits.frames} frames${leftOut > 0 ? `, ${leftOut} left out that do not conform` : ""}${limits.provisional ? ", provisional" : ""}`;
  const control =
    limits === null
      ? `no limits: ${reason === null ? "" : noLimitsText(reason)}`
      : `${limits.kind === "quantile" && subject.unit !== "T2" ? "median" : "mean"} ${number(limits.center)}, control limits ${number(limits.lower)} to ${number(limits.upper)} (${basis}), ${countText(signals.length, "signal")}`;
  const lines = [`  ${streamText(subject)}: ${countText(values.length, "frame")}, ${control}`];
  const serialAt = (index: number) => stream.serials[stream.frames[index] ?? 0] ?? "";
  for (const signal of signals.slice(0, 3))
    lines.push(`      ⚑ ${serialAt(signal.index)}: ${signalWords(stream, signal)}`);
  if (signals.length > 3)
    lines.push(`      ⚑ and ${signals.length - 3} more, the last at ${serialAt(signals.at(-1)?.index ?? 0)}`);
  if (capability) lines.push(`      ${capabilityText(capability)}`);
  return lines;
}

function batchLines(outcome: CheckOutcome): string[] {
  return outcome.batches.flatMap(({ batch, decision, reasons, notes, frames }) => {
    const name = batch ?? "(frames without a batch)";
    const head = `  ${decision === "hold" ? "⊖ HOLD" : "○ ship"}  ${name}, ${countText(frames, "frame")}`;
    return [
      head,
      ...reasons.map(({ text, serials }) =>
        `      ${text} ${serials.length > 1 ? `Frames: ${serialsText(serials)}.` : ""}`.trimEnd(),
      ),
      ...notes.map(({ text }) => `      for information: ${text}`),
    ];
  });
}

function caseLines({ found, serials }: FileCase): string[] {
  const names = caseCharacteristics(found).map(
    ({ name, seat }) => `${seat === null ? "" : `${seat.toUpperCase()} `}${name}`,
  );
  const serialAt = (place: number) => serials[place] ?? "";
  const { since, until, kind, change, outside, answer } = found;
  const interval =
    since.earliest === since.latest ? "" : ` (between ${serialAt(since.earliest)} and ${serialAt(since.latest)})`;
  const end = until === null ? "still so" : `until ${serialAt(until)}`;
  const [best] = found.causes;
  return [
    `  ⚑ ${names.join(", ")}: ${changeWords(kind, change, found.towards)} since ${serialAt(since.place)}${interval}, ${end}`,
    `      ${answerWords(answer)}${best === undefined || answer.kind === "unknown" ? "" : ` ${causeWhy(best)}`}`,
    ...(outside.length === 0
      ? []
      : [`      ${countText(outside.length, "frame")} outside limits: ${serialsText(outside.map(serialAt))}`]),
  ];
}

/** What every check says at its end. */
export const CAUTIONS = [
  "The demonstration drawings carry invented limits, not those of a standard or a maker. The frame maker's and the bearing maker's own limits decide.",
  "Fits, clearances and verdicts are as good as the readings: gauge, setting ring, temperature and hand are part of U.",
] as const;

function streamsByGroup(streams: readonly FileStream[]): string[] {
  let last = "";
  return streams.flatMap((stream) => {
    const group = `Streams of line ${stream.line ?? "(none)"}, ${stream.operation ?? "operation not named"}, drawing ${stream.drawing.key}`;
    const head = group === last ? [] : ["", group];
    last = group;
    return [...head, ...streamLines(stream)];
  });
}

/** The errors of a bad file. */
export function problemLines(outcome: CheckOutcome): string[] {
  const shown = outcome.problems.slice(0, PROBLEMS_IN_FULL).map((problem) => `  ${problemSentence(problem)}`);
  const more = outcome.problemCount - shown.length;
  return [...shown, ...(more > 0 ? [`  and ${more} more; --json lists them`] : [])];
}

/**
 * The check's result for a person at a terminal.
 *
 * @param frames - lines of the frames that are not plainly good, at most FRAMES_IN_FULL of them
 */
export function humanText(
  name: string,
  outcome: CheckOutcome,
  frames: { readonly lines: readonly string[]; readonly more: number },
): string {
  const { verdicts, warnings, batches, problemCount } = outcome;
  const lines: string[] = [];
  if (problemCount > 0)
    lines.push(`${name}: ${countText(problemCount, "error")} in the file`, ...problemLines(outcome), "");
  if (outcome.frames === 0) {
    lines.push("Nothing was judged and nothing was written. Correct the file and check it again.");
    lines.push(...warnings.map((warning) => `  note: ${warning}`));
    return `${lines.join("\n")}\n`;
  }
  const held = batches.filter(({ decision }) => decision === "hold").length;
  const drawings = outcome.drawings.map(
    ({ key, title, invented }) => `${key} (${title}${invented ? ", demonstration limits" : ""})`,
  );
  lines.push(
    `${name}: ${countText(outcome.frames, "frame")}, ${countText(batches.length, "batch", "batches")}, ${held} on hold`,
  );
  lines.push(`drawing ${drawings.join(", ")}`);
  lines.push(
    `○ ${verdicts.conforms} conform   ◐ ${verdicts["not proven"]} not proven   ◌ ${verdicts["not measured"]} not measured   ⊖ ${verdicts["does not conform"]} do not conform`,
  );
  lines.push("", "Batches", ...batchLines(outcome));
  if (outcome.cases.length > 0) lines.push("", "Cases: what changed", ...outcome.cases.flatMap(caseLines));
  if (frames.lines.length > 0) {
    lines.push("", "Frames that are not plainly good", ...frames.lines);
    if (frames.more > 0)
      lines.push(`  and ${countText(frames.more, "more frame", "more frames")}; --json lists them all`);
  }
  lines.push(...streamsByGroup(outcome.streams));
  if (warnings.length > 0) lines.push("", "Notes", ...warnings.map((warning) => `  ${warning}`));
  lines.push("", ...CAUTIONS.map((caution) => `${caution}`));
  return `${lines.join("\n")}\n`;
}
