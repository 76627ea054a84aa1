import "server-only";
import { AppError } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import { toldCharacteristics } from "@/lib/format/judging-words";
import { GONE_STATES, isState, stateAfterInspection } from "@/lib/quality/frame-state";
import type { MeasuredElsewhere } from "@/lib/quality/other-line-doubts";
import { begunAt, judgedBy, planCountsFor } from "../evidence/batch-plan";
import {
  type EarlierInspection,
  isWithoutFelt,
  type ListedInspection,
  onceMade,
} from "../evidence/earlier-inspections";
import type { ReferenceData } from "../evidence/reference-data";
import { inspectionLabel, withElsewhere } from "../evidence/stored-evidence";
import type { FrameHistory } from "./frame-history";
import { checkedEvidence, type OwnFindings } from "./own-findings";
import type { FrameNow, KnownInspection, PlacedInspection, RepeatedInspection } from "./placed-inspection";
import type { JudgedInspection } from "./recorded";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.placeInspection;

/** Valid inspections of one frame that are judged together: its record and the line's one writer look at all of them. */
const MOST_TOGETHER = 1000;

const NOTHING_VALID = { verdict: "not measured", holds: false, reasons: [] } as const;

type Findings = Pick<OwnFindings, "verdict" | "holds" | "reasons">;

function toldTogether(judged: ReturnType<FrameHistory["judgedWith"]>): Findings {
  return judged === null ? NOTHING_VALID : { ...judged, reasons: toldCharacteristics(judged.reasons) };
}

function repeated(item: JudgedInspection, known: KnownInspection, frame: FrameNow | undefined): RepeatedInspection {
  if (!known.contentHash.equals(item.contentHash))
    throw new AppError(
      "already-recorded-differently",
      words.inspectionWithKeyWasRecorded(item.input.id, known.serial) + words.firstOneStands,
    );
  return {
    kind: "repeated",
    outcome: {
      id: item.input.id,
      serial: item.input.serial,
      status: "repeated",
      ordinal: 1,
      verdict: known.verdict,
      frameVerdict: known.verdict,
      frameState: frame?.state ?? "measured",
      held: frame?.state === "held",
      batch: frame?.batchKey ?? "",
      batchHeld: frame?.batchHeld ?? false,
      reasons: [],
      doubts: [],
      warnings: [],
    },
  };
}

function assertFrameTakes(
  item: JudgedInspection,
  frame: FrameNow | undefined,
  say: (time: Date) => string,
): asserts frame is FrameNow {
  const { serial, batch, deviceId } = item.input;
  if (!frame) throw new AppError("not-found", words.noFrameHasSerial(serial));
  if (batch !== undefined && batch !== frame.batchKey)
    throw new AppError("wrong-batch", words.frameBelongsToBatch(serial, frame.batchKey, batch), {
      details: { batch: frame.batchKey },
    });
  if (frame.drawingId !== item.plan.drawingId)
    throw new AppError("plan-changed", words.frameIsOfAnotherDrawing(serial, item.plan.planKey, frame.batchKey));
  if (frame.leaseDeviceId !== null && frame.leaseDeviceId !== (deviceId ?? null))
    throw new AppError(
      "frame-leased",
      words.frameIsBeingMeasured(
        serial,
        frame.leaseDeviceId,
        frame.leasedAt === null ? words.earlier : say(frame.leasedAt),
      ) + words.finishItThere,
      { details: { device: frame.leaseDeviceId } },
    );
}

/** Where it was measured, if that is at another line's station and nobody said that it was the right frame. */
function elsewhereOf({ input, station }: JudgedInspection, { lineKey }: FrameNow): MeasuredElsewhere | null {
  if (lineKey === station.lineKey || input.attributes?.otherLine === lineKey) return null;
  return { station: station.key, line: station.lineKey, frameLine: lineKey };
}

/** By what an inspection that is being recorded is judged on its frame. */
function judgingOf(item: JudgedInspection, frame: FrameNow, reference: ReferenceData) {
  const { plan, measuredAt, offsetsMs } = item;
  const begun = begunAt(measuredAt, offsetsMs);
  const by = judgedBy(plan, begun, frame.planId, reference);
  const planCounts = planCountsFor(plan, begun, frame.planId, reference);
  return { by, planCounts, elsewhere: elsewhereOf(item, frame) };
}

/** An inspection that is being recorded, as evidence on its frame. */
function evidenceOf(
  item: JudgedInspection,
  frameId: string,
  ordinal: number,
  { by, planCounts, elsewhere }: ReturnType<typeof judgingOf>,
  reference: ReferenceData,
): EarlierInspection {
  const { measuredAt, overdueGauges } = item;
  const label = inspectionLabel({ ordinal, measuredAt }, reference);
  const evidence = { ...checkedEvidence(item, { label, planCounts }), ...by, frameId, measuredAt, overdueGauges };
  return withElsewhere(evidence, elsewhere);
}

/**
 * Decides what one inspection does to its frame as it stands inside the transaction.
 *
 * @throws AppError not-found, wrong-batch, plan-changed, frame-leased, refused (a second inspection without a
 *   reason, more than are judged together), already-recorded-differently
 */
export function placeInspection(
  item: JudgedInspection,
  frame: FrameNow | undefined,
  known: KnownInspection | undefined,
  historyOf: (frame: FrameNow) => FrameHistory,
  now: Date,
  reference: ReferenceData,
): PlacedInspection | RepeatedInspection {
  if (known) return repeated(item, known, frame);
  const say = (time: Date): string => formatMoment(time, { zone: reference.zone });
  assertFrameTakes(item, frame, say);
  const { serial, reason } = item.input;
  const { operationId } = item.station;
  const history = historyOf(frame);
  const before = history.at(operationId);
  const measuredBefore = before.newestValid?.measuredAt;
  if (measuredBefore !== undefined && reason === undefined)
    throw new AppError(
      "refused",
      words.frameWasMeasuredBefore(serial, say(measuredBefore)) + words.sayWhyIsMeasuredAgain,
      {
        details: { measuredBefore: measuredBefore.toISOString() },
        fields: [{ path: "reason", message: words.mustBeGivenForSecond }],
      },
    );
  // Past the limit only what tells something new is taken: the first reading against a frame that is not held.
  if (history.validCount >= MOST_TOGETHER && (!item.findings.holds || frame.state === "held"))
    throw new AppError("refused", words.frameHasValidInspectionsAlready(serial, MOST_TOGETHER) + words.checkSerial, {
      details: { most: MOST_TOGETHER },
    });
  const ordinal = before.count + 1;
  const judging = judgingOf(item, frame, reference);
  const { by, planCounts, elsewhere } = judging;
  const { measuredAt, overdueGauges } = item;
  const evidence = onceMade(() => evidenceOf(item, frame.id, ordinal, judging, reference));
  const plain = elsewhere === null && isWithoutFelt(item.input.attributes ?? {});
  const listed: ListedInspection = { id: item.input.id, plain, operationId, measuredAt, overdueGauges, evidence };
  const isPast = !history.isValid(item);
  // A frame that was never measured before, by far the most, is judged by what was computed before the transaction.
  const isFirst =
    history.count === 0 && planCounts && by.compiled === item.plan.compiled && !isPast && elsewhere === null;
  const together = isFirst ? item.findings : toldTogether(history.judgedWith(listed));
  // Measured before the rework and arrived after it: it says nothing about the frame as it is now.
  const { verdict, holds: holdsItself, reasons } = together;
  // Until it is withdrawn, what a gauge out of calibration measured is part of what the frame rests on.
  const isOverdue = history.isOverdue || (!isPast && overdueGauges.length > 0);
  const holds = !isPast && (holdsItself || isOverdue);
  const warnings = item.overdueGauges.map((key) => words.gaugeWasOutOfCalibration(key));
  if (elsewhere !== null)
    warnings.push(
      `Frame ${serial} is of line ${frame.lineKey} and was measured at station ${item.station.key} of line ${item.station.lineKey}: was it the right frame? ` +
        "It is held until somebody who did not measure it says so: released with a signature if it was, the inspection withdrawn if it was not.",
    );
  if (isPast)
    warnings.push(`Frame ${serial} was reworked after this measurement: it stays on the record and decides nothing.`);
  if (frame.shippedAt !== null)
    warnings.push(`Frame ${serial} shipped on ${say(frame.shippedAt)}, before this reading arrived.`);
  return {
    kind: "placed",
    item,
    ordinal,
    listed,
    verdict,
    reason: reason ?? (before.count > 0 ? words.measuredAgainAfterRework : null),
    reasons,
    holds,
    escape:
      frame.state === "shipped" && holds
        ? `Shipped ${say(frame.shippedAt ?? now)}; readings that arrived ${say(now)} are against it.`
        : null,
    warnings,
    frame: {
      ...frame,
      state: stateAfterInspection(frame.state, { holds, isPast }),
      inspections: frame.inspections + 1,
      leaseDeviceId: null,
      leasedAt: null,
      batchHeld: frame.batchHeld || (holds && !isState(frame.state, GONE_STATES)),
    },
  };
}
