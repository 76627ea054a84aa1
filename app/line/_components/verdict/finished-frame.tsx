"use client";

import { useMemo, useState } from "react";
import { compileMeasurement, unseenSweepDirections } from "@/lib/core/metrology/measure-frame";
import { formatDuration } from "@/lib/format/date-text";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { directionQuestions, measurementDoubt } from "@/lib/format/measurement-doubts";
import { formatLimits, formatValue } from "@/lib/format/number-text";
import { briefReason, type ReasonOptions, verdictReason, verdictTitle } from "@/lib/format/verdict-reasons";
import { directionsToAsk } from "@/lib/offline/verdict/sweep-directions";
import { deviceEvidence } from "@/lib/offline/verdict/device-evidence";
import { readingNamesOf } from "@/lib/offline/device/keying-plan";
import type { LineDevice } from "@/lib/offline/line-device";
import { countBatch, type FinishedFrame as Finished, type LineState } from "@/lib/offline/device/line-state";
import { toldJudgement } from "@/lib/format/judging-words";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import { judgeInspection } from "@/lib/quality/judge-inspection";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { OffsetDrawing } from "@/lib/ui/offset-drawing";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { VerdictBanner } from "@/lib/ui/verdict-banner";
import { DoubtList } from "../parts/doubt-list";
import { FrameLabel } from "./frame-label";
import { FrameMeaningPanel, reworkOf, useFrameMeaning } from "./frame-meaning-panel";
import { LineHead } from "../head/line-head";
import { bannerOf, labelMarks, nextStep, type Step } from "./next-step";
import { ScanField } from "../parts/scan-field";
import { ZeroDue } from "../head/zero-due";
import { VERDICT_WORDS } from "../../words/verdict";
import ask from "../parts/ask.module.css";
import parts from "../parts/parts.module.css";
import screen from "../parts/screen.module.css";
import styles from "./verdict.module.css";

const words = VERDICT_WORDS.finished;

export { loadMeanings } from "./frame-meaning-panel";

type FinishedFrameProps = Readonly<{ device: LineDevice; state: LineState; finished: Finished; inspector: string }>;

const ORDER = ["does not conform", "not measured", "not proven", "conforms"] as const;

function worstFirst(judged: readonly ToldCharacteristic[]): ToldCharacteristic[] {
  return [...judged].sort((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict));
}

/** Reasons in full; the others stand with their marks in the strip below. */
const MOST_REASONS = 2;

type Said = {
  readonly verdict: ToldCharacteristic["verdict"];
  readonly titles: readonly string[];
  readonly text: string;
};

/** The first reasons, each sentence once: one cause often speaks against both seats. */
function saidOf(judged: readonly ToldCharacteristic[], options: ReasonOptions): readonly Said[] {
  const said = new Map<string, Said>();
  for (const one of judged) {
    const text = verdictReason(one, options);
    const key = `${one.verdict} ${text}`;
    const titles = [...(said.get(key)?.titles ?? []), verdictTitle(one, options.decimal)];
    said.set(key, { verdict: one.verdict, titles, text });
  }
  return [...said.values()].slice(0, MOST_REASONS);
}

/** What the line does after its first-off; null where the frame is none, or the line goes on. */
function firstOffStep(device: LineDevice, { attributes }: Finished["inspection"]): Step | null {
  if (attributes?.firstOff !== true) return null;
  const line = device.firstOff();
  if (line.kind === "waits")
    return {
      title: words.firstOffCallEngineer,
      text: words.keepFrameAtStation,
    };
  if (line.kind === "free") return null;
  return {
    title: words.firstOffFailed,
    text: words.holdIt,
  };
}

/** Who measured it; several where the inspector changed half way. */
function inspectorsText(
  { attributes, inspectorCode }: Finished["inspection"],
  { kit }: LineState,
  now: string,
): string {
  const names = new Map((kit?.inspectors ?? []).map(({ badgeCode, name }) => [badgeCode, name]));
  if (kit?.viewer) names.set(kit.viewer.code, kit.viewer.name);
  const codes = attributes?.inspectors?.map(({ code }) => code) ?? (inspectorCode === undefined ? [] : [inspectorCode]);
  return [...new Set(codes)].map((code) => names.get(code) ?? code).join(", ") || now;
}

function overdueText(overdue: readonly string[]): string[] {
  return overdue.map((key) => words.gaugeWasOutOfCalibration(key));
}

const AGAIN = words.measuredAgain;

/** The end of a frame: the answer for two metres, why, and what to do next. */
export function FinishedFrame({ device, state, finished, inspector }: FinishedFrameProps) {
  const { inspection, plan, gauges } = finished;
  const { side, decimal } = state.settings;
  const { drawing } = plan;
  const result = useMemo(() => {
    const compiled = compileMeasurement(readingNamesOf(plan) ?? [], plan.drawing, measuringOptions(plan.settings));
    return { compiled, ...judgeInspection(deviceEvidence(plan.drawing, compiled, inspection, gauges.doubts)) };
  }, [plan, inspection, gauges]);
  const { measurement } = result;
  const judgement = toldJudgement(result.judgement);
  const meaning = useFrameMeaning({
    drawing,
    side,
    measurement,
    compiled: result.compiled,
    ...(inspection.attributes === undefined ? {} : { attributes: inspection.attributes }),
  });
  const [askedHow, setAskedHow] = useState(false);
  const judged = worstFirst(judgement.characteristics);
  const sent = state.sent.find((one) => one.id === inspection.id);
  const differs = sent !== undefined && sent.verdict !== judgement.verdict;
  // The server knows more of the gauges: zero checks of other devices, and those that came later.
  const ofGauges = differs && (sent.doubts ?? []).length > 0;
  const verdict = sent?.frameVerdict ?? judgement.verdict;
  const counts = ORDER.map((word) => ({
    count: judged.filter((one) => one.verdict === word).length,
    word: word === "conforms" ? words.conform : word,
  })).filter(({ count }) => count > 0);
  // Measured again: all valid inspections decide together, and the server has the earlier ones.
  const joint = sent !== undefined && sent.frameVerdict !== sent.verdict ? (sent.reasons ?? []) : null;
  const reasons = joint === null ? judged.filter((one) => one.verdict !== "conforms") : worstFirst(joint);
  const options = { decisionRule: drawing.decisionRule, side, decimal };
  const doubts = [
    ...measurement.warnings.map((warning) => measurementDoubt(warning, result.compiled.names, side, decimal)),
    ...(sent?.warnings ?? overdueText(gauges.overdue)),
    ...(sent === undefined && inspection.reason !== undefined ? [AGAIN] : []),
  ];
  const unseen = directionsToAsk(unseenSweepDirections(result.compiled, measurement), state, Date.now());
  const questions = directionQuestions(unseen, side, decimal);
  const queued = state.queue.find((one) => one.inspection.id === inspection.id);
  const isHeld = sent?.held ?? (judgement.holdsFrame || gauges.overdue.length > 0);
  const batch = state.kit?.batches.find((one) => one.key === inspection.batch);
  const { planned, measured } = batch === undefined ? { planned: 0, measured: 0 } : countBatch(state.kit, batch);
  const worst = joint === null ? judged[0] : worstFirst(joint)[0];
  const stands = {
    verdict,
    ...(worst?.code === undefined ? {} : { code: worst.code }),
    isHeld,
    isWithdrawn: finished.withdrawn !== undefined,
    isSent: sent !== undefined,
    batch: inspection.batch ?? "",
    batchHeld: sent?.batchHeld === true || batch?.held === true,
    left: Math.max(0, planned - measured),
    isRefused: queued !== undefined && queued.state !== "waiting",
    isAgain: inspection.reason !== undefined,
  };
  const step = nextStep(stands, reworkOf(meaning));
  const banner = bannerOf(stands);
  const firstOff = firstOffStep(device, inspection);
  const seconds = (Date.parse(inspection.deviceTime) - finished.startedAt) / 1000;
  const swept = measurement.swept[0];
  const zone = judged.find((one) => one.name === "coaxiality");
  const isAxisShown = swept !== undefined && swept.offset12Um !== null && swept.offset3Um !== null;
  const finding =
    worst === undefined
      ? undefined
      : worst.verdict === "not proven" && worst.reason !== undefined
        ? `${verdictTitle(worst, decimal)}: ${briefReason(worst.reason, { side, decimal })}`
        : `${verdictTitle(worst, decimal)}, ${worst.name === "coaxiality" && worst.upper !== null ? words.limit(formatValue(worst.upper / 1000, "mm", { decimal })) : formatLimits(worst.lower, worst.upper, worst.unit, { decimal })}`;
  return (
    <main id="main" className={screen.screen}>
      <LineHead
        device={device}
        state={state}
        serial={inspection.serial}
        batch={inspection.batch ?? ""}
        mark={inspection.attributes?.firstOff === true ? "first-off" : null}
      />
      {finished.withdrawn === undefined ? (
        <VerdictBanner
          state={banner}
          finding={banner === "held" ? doubts[0] : stands.isAgain && !stands.isSent ? words.inspectionAlone : finding}
          counts={joint === null ? counts : []}
        />
      ) : (
        <VerdictBanner state="not measured" finding={words.inspectionWithdrawn(finished.withdrawn)} counts={[]} />
      )}
      {state.notice ? (
        <p className={state.notice.tone === "done" ? parts.done : parts.refusal} role="alert">
          {state.notice.text}
        </p>
      ) : null}
      {ofGauges ? (
        <p className={parts.refusal} role="alert">
          {words.serverKnowsOfDoubtDevice((sent.doubts ?? []).join("; "), sent.verdict)}
        </p>
      ) : differs ? (
        <p className={styles.fault} role="alert">
          {words.serversResultForInspectionIs(sent.verdict, judgement.verdict)}
        </p>
      ) : null}
      <div className={styles.verdictGrid}>
        <div className={styles.axisColumn}>
          <section
            className={`${screen.sheet} ${styles.axes} ${isAxisShown ? "" : styles.withoutAxes}`}
            aria-label={words.whereAxesLie}
          >
            {swept !== undefined && swept.offset12Um !== null && swept.offset3Um !== null ? (
              <OffsetDrawing
                drawing={drawing}
                side={side}
                decimal={decimal}
                offset={{
                  towards12Um: swept.offset12Um,
                  towards3Um: swept.offset3Um,
                  slope12UmPerMm: swept.slope12,
                }}
                zoneUm={swept.zoneUm ?? 0}
                limitUm={zone?.upper ?? null}
                conforms={zone === undefined || zone.verdict === "conforms"}
                meansMm={{
                  ...(measurement.bores.ds === null ? {} : { ds: measurement.bores.ds.meanMm }),
                  ...(measurement.bores.nds === null ? {} : { nds: measurement.bores.nds.meanMm }),
                }}
              />
            ) : (
              <p className={styles.noAxis}>{words.axesWereNotMeasured(swept?.reason ?? words.planHasNoSweep)}</p>
            )}
          </section>
          {questions.length > 0 && finished.withdrawn === undefined ? (
            <div className={styles.wayRound} role="group" aria-label={words.wayRoundOfSweeps}>
              <div>
                {questions.map((question) => (
                  <p key={question}>{question}</p>
                ))}
              </div>
              <div className={`${parts.keys} ${styles.wayRoundKeys}`}>
                <Button size="touch" onClick={() => void device.confirmDirections(unseen)}>
                  {words.yesWayRound}
                </Button>
                <Button size="touch" onClick={() => void device.enter(inspection.serial)}>
                  {words.noMeasureAgain}
                </Button>
              </div>
            </div>
          ) : null}
          <DoubtList doubts={doubts} />
        </div>
        <section className={styles.why}>
          <SectionHeading>
            {finished.withdrawn !== undefined
              ? words.whatWasWithdrawn
              : banner === "conforms"
                ? words.whyConforms
                : banner === "held"
                  ? words.whatWasMeasured
                  : words.why}
          </SectionHeading>
          {joint === null ? null : (
            <p className={styles.together}>{words.togetherWithEarlierInspectionsFrame(verdict, sent?.verdict)}</p>
          )}
          <ul className={styles.whyList}>
            {saidOf(reasons.length > 0 || joint !== null ? reasons : judged, options).map(
              ({ verdict, titles, text }) => (
                <li key={titles[0]}>
                  <StateMark state={verdict} size="m" wordBeside />
                  <div>
                    <b>{titles.join(", ")}</b>
                    <p>{text}</p>
                  </div>
                </li>
              ),
            )}
          </ul>
          <div className={parts.step}>
            <h2>{firstOff?.title ?? step.title}</h2>
            <p>
              {firstOff === null
                ? step.text
                : `${firstOff.text}${stands.batchHeld ? words.batchIsHeld(stands.batch) : ""}`}
            </p>
          </div>
          <ZeroDue device={device} state={state} plan={plan} />
          <ScanField
            label={words.scanNextFrame}
            placeholder={words.serial}
            onScan={(text) => void device.enter(text)}
          />
        </section>
        <div>
          <FrameMeaningPanel meaning={meaning} />
          <div className={`${ask.askKeys} ${styles.keys}`}>
            <Button size="touch" onClick={() => window.print()}>
              {words.printLabel}
            </Button>
            <Button size="touch" onClick={() => void device.enter(inspection.serial)}>
              {words.measureAgain}
            </Button>
            <Button
              size="touch"
              disabled={sent === undefined || finished.withdrawn !== undefined}
              onClick={() => setAskedHow(true)}
            >
              {words.howToWithdraw}
            </Button>
            <Button size="touch" onClick={() => void device.closeFinished()}>
              {words.batch}
            </Button>
          </div>
        </div>
      </div>
      <ul className={styles.characteristics} aria-label={words.allCharacteristics}>
        {judgement.characteristics.map((one) => (
          <li key={`${one.name} ${one.seat}`}>
            <StateMark state={one.verdict} size="s" wordBeside />
            <span>{verdictTitle({ ...one, at: null }, decimal)}</span>
          </li>
        ))}
      </ul>
      <TitleBlock
        touch
        projection
        cells={[
          { label: words.drawing, value: words.rev(drawing.key, drawing.revision) },
          {
            label: words.inspection,
            value: words.inSeconds(
              sent ? words.no(sent.ordinal) : "",
              inspection.readings.length,
              formatDuration(seconds),
            ),
          },
          {
            label: words.decisionRule,
            value: DECISION_RULE_WORDS[drawing.decisionRule],
          },
          {
            label: words.gauges,
            value:
              [...new Set([inspection.gauges ?? []].flat().filter((key) => key !== null))].join(", ") ||
              words.noneEntered,
          },
          { label: words.inspector, value: inspectorsText(inspection, state, inspector) },
          {
            label: words.record,
            value: sent ? words.onServer : stands.isRefused ? words.onDeviceRefused : words.onDeviceToBeSent,
          },
        ]}
      />
      <Dialog
        open={askedHow}
        title={words.inspectionIsWithdrawnElsewhere}
        onClose={() => setAskedHow(false)}
        keys={
          <Button kind="go" size="touch" autoFocus onClick={() => setAskedHow(false)}>
            {words.understood}
          </Button>
        }
      >
        <p>{words.notOnDeviceRecorded(inspection.serial)}</p>
        <p>{words.staysOnRecordAndCounts}</p>
      </Dialog>
      <FrameLabel
        serial={inspection.serial}
        batch={inspection.batch ?? ""}
        marks={labelMarks(stands)}
        at={inspection.deviceTime}
        zone={state.kit?.zone ?? "UTC"}
      />
    </main>
  );
}
