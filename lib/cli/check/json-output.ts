import { answerWords, causeName, causeWhy } from "@/lib/format/case-words";
import type { ToldBearing, ToldFrameMeaning, ToldMeaning } from "@/lib/format/meaning-words";
import { limitsMethodText, noLimitsText } from "@/lib/format/signal-words";
import { caseCharacteristics } from "@/lib/quality/cases/case-characteristics";
import type { FileCase } from "./file-cases";
import type { FileStream } from "./file-streams";
import type { CheckOutcome } from "./check-file";
import type { JudgedFrame } from "./judge-file-frame";
import { signalWords } from "./stream-words";

/** What the readings of a frame mean, each estimate with its short form, its sentence and its uncertainty. */
function meaningJson(meaning: ToldFrameMeaning): unknown {
  const said = ({ title, figure, sentence, uncertainty }: ToldMeaning<unknown>) => ({
    title,
    figure,
    sentence,
    uncertainty,
  });
  const bearing = ({ fit, clearance, tilt }: ToldBearing) => ({
    fit: said(fit),
    clearance: said(clearance),
    tilt: said(tilt),
  });
  const { bearings, functionalSize, gaugeBar, salvage, evidence, cautions } = meaning;
  return {
    bearings: { ds: bearing(bearings.ds), nds: bearing(bearings.nds) },
    functionalSize: said(functionalSize),
    gaugeBar: said(gaugeBar),
    salvage: {
      summary: salvage.summary,
      ream: said(salvage.ream),
      facing: said(salvage.facing),
      compound: { ds: said(salvage.compound.ds), nds: said(salvage.compound.nds) },
    },
    evidence,
    cautions,
  };
}

function frameJson(frame: JudgedFrame): unknown {
  const { inspection, verdict, judgement, inspections, notMeasured, doubts } = frame;
  return {
    serial: inspection.serial,
    batch: inspection.texts.batch ?? null,
    verdict,
    characteristics: judgement.characteristics,
    line: inspection.texts.line ?? null,
    operation: inspection.texts.operation ?? null,
    drawing: inspection.drawing.key,
    measuredAt: inspection.measuredAt === null ? null : new Date(inspection.measuredAt).toISOString(),
    row: inspection.row,
    inspections,
    meaning: meaningJson(frame.meaning()),
    ...(notMeasured === null ? {} : { notMeasured }),
    ...(doubts.length === 0 ? {} : { doubts }),
  };
}

function streamJson(stream: FileStream): unknown {
  const { line, operation, drawing, subject, evaluation, values, frames, serials, times, leftOut } = stream;
  const { limits, reason, signals } = evaluation;
  const serialAt = (index: number) => serials[frames[index] ?? 0] ?? null;
  return {
    characteristic: subject.characteristic,
    seat: subject.seat,
    line,
    operation,
    drawing: drawing.key,
    statistic: subject.statistic,
    unit: subject.unit,
    frames: values.length,
    signals: signals.map((signal) => {
      const { rule, side, index, points } = signal;
      const time = times[frames[index] ?? 0] ?? null;
      return {
        rule,
        side,
        serial: serialAt(index),
        measuredAt: time === null ? null : new Date(time).toISOString(),
        value: values[index],
        serials: points.map(serialAt),
        text: signalWords(stream, signal),
      };
    }),
    limits:
      limits === null
        ? null
        : {
            lower: limits.lower,
            centre: limits.center,
            upper: limits.upper,
            sigma: limits.sigma > 0 ? limits.sigma : null,
            rangeCentre: limits.rangeCenter,
            rangeUpper: limits.rangeUpper,
            average: limits.average,
            baselineFrames: limits.frames,
            provisional: limits.provisional,
            method: limitsMethodText(limits.method),
            leftOut,
            ...(evaluation.offset === null
              ? {}
              : { offset: { ...evaluation.offset, method: limitsMethodText(limits.method) } }),
          },
    ...(reason === null ? {} : { noLimits: noLimitsText(reason) }),
    capability: stream.capability,
  };
}

/** ln of the odds below which a cause is not named: one in ten thousand of the best. */
const UNLIKELY = -Math.log(1e4);

/** A case as one change: what moved, since and until which frame, by how much, why, and what it cost. */
function caseJson({ found, serials }: FileCase): unknown {
  const serialAt = (place: number) => serials[place] ?? null;
  const { line, operation, kind, since, until, change } = found;
  const possible = found.causes.filter(({ lnOdds }) => lnOdds !== null && lnOdds > UNLIKELY);
  return {
    line,
    operation,
    characteristics: caseCharacteristics(found),
    kind,
    since: {
      serial: serialAt(since.place),
      earliest: serialAt(since.earliest),
      latest: serialAt(since.latest),
    },
    until: until === null ? null : serialAt(until),
    change: { value: change.value, unit: change.unit, each: change.each },
    causes: possible.map((ranked) => ({
      cause: causeName(ranked.cause),
      why: causeWhy(ranked),
      subject: ranked.subject,
    })),
    answer: answerWords(found.answer),
    frames: found.outside.map(serialAt),
  };
}

function problemsJson({ problems, problemCount }: CheckOutcome): unknown {
  return {
    errors: problems.map(({ file, row, column, value, rule, hint }) => ({ row, column, value, rule, hint, file })),
    ...(problemCount > problems.length ? { errorCount: problemCount } : {}),
  };
}

/** Writes the result as one JSON object, frames as they come. */
export type JsonOutput = {
  readonly frame: (frame: JudgedFrame) => void;
  readonly finish: (outcome: CheckOutcome) => void;
};

/**
 * The check's result as one JSON object: frames, batches, streams, cases, errors, warnings, exitCode.
 *
 * @param write - takes the text piece by piece
 */
export function createJsonOutput(write: (text: string) => void): JsonOutput {
  let frames = 0;
  return {
    frame(frame) {
      write(`${frames === 0 ? '{"frames":[' : ","}\n${JSON.stringify(frameJson(frame))}`);
      frames += 1;
    },
    finish(outcome) {
      const { batches, streams, cases, warnings, exitCode } = outcome;
      const rest = {
        batches: batches.map(({ batch, decision, reasons, notes, frames: count }) => ({
          batch,
          decision,
          reasons,
          notes,
          frames: count,
        })),
        streams: streams.map(streamJson),
        cases: cases.map(caseJson),
        ...(problemsJson(outcome) as object),
        warnings,
        exitCode,
      };
      write(`${frames === 0 ? '{"frames":[' : ""}],\n${JSON.stringify(rest).slice(1)}\n`);
    },
  };
}
