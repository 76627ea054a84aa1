"use client";

import { useDeferredValue, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { countBatch, type LineState, planOfBatch, serverTimeMs } from "@/lib/offline/device/line-state";
import { calibratedUntilText, gaugesAtHand } from "@/lib/offline/device/station-gauges";
import type { StationBatch, StationFrame, StationPlan } from "@/lib/schemas/station-package";
import { formatMoment } from "@/lib/format/date-text";
import { Button } from "@/lib/ui/button";
import { EmptyState } from "@/lib/ui/empty-state";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { ProgressCells } from "@/lib/ui/progress-cells";
import { SegmentedChoice } from "@/lib/ui/segmented-choice";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { GaugeList } from "../head/gauge-list";
import { ReasonDialog } from "../queue/later-dialogs";
import { holdersText } from "@/lib/offline/choose/batch-lease";
import { QueueBox } from "../queue/queue-box";
import { ScanField } from "../parts/scan-field";
import { NewProgram } from "../parts/new-program";
import { ZeroDue } from "../head/zero-due";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import parts from "../parts/parts.module.css";
import styles from "./choose.module.css";

const words = FIRST_SCREEN_WORDS.chooseFrame;

type ChooseFrameProps = Readonly<{
  device: LineDevice;
  state: LineState;
  inspector: string;
  build: string | null;
  /** The device is to stand at another station. */
  onMove: () => void;
}>;

const GIVE_UP_REASONS = [words.wrongFrameScanned, words.frameTakenAway, words.gaugeOutOfOrder];

function verdictWord(verdict: string | null, inspections: number) {
  if (inspections === 0) return "unmeasured";
  return verdict === "conforms" || verdict === "not proven" || verdict === "does not conform"
    ? verdict
    : "not measured";
}

/** Other devices that have the batch in hand: each frame is leased by itself, so that both can go on. */
function inHandElsewhere({ devices = [] }: StationBatch, deviceId: string, zone: string): string {
  const others = devices.filter(({ id }) => id !== deviceId);
  return others.length === 0 ? "" : words.alsoInHandOn(holdersText(others, zone));
}

/** Which frames the plan asks for, where it is not all of them. */
function plannedText(plan: StationPlan | null, planned: number, frames: number): string {
  if (plan === null) return "";
  // The sampling of a supplier stands before what the plan says.
  if (plan.frames.kind === "all") return planned < frames ? words.drawn(planned) : "";
  const { kind, n, firstOff } = plan.frames;
  if (kind === "drawn") return words.drawn(planned);
  return words.oneIn(firstOff === true ? words.firstAnd : "", n ?? 1);
}

/** What to measure: scan, or a batch and what is left of it. */
export function ChooseFrame({ device, state, inspector, onMove }: ChooseFrameProps) {
  const [givingUp, setGivingUp] = useState<string | null>(null);
  const { kit, settings, notice } = state;
  const batches = kit?.batches ?? [];
  const chosen = batches.find((one) => one.key === settings.batch);
  const left = (one: StationBatch) => countBatch(kit, one).planned - countBatch(kit, one).measured;
  // What is in hand stays where it is seen, also when its last frame is measured.
  const open = batches.filter((one) => left(one) > 0 || one.key === settings.batch);
  const measured = batches.filter((one) => !open.includes(one));
  const batch = chosen ?? batches.find((one) => left(one) > 0) ?? null;
  const frames = kit?.frames.find((one) => one.batch === batch?.key)?.frames ?? [];
  const count = batch === null ? { planned: 0, measured: 0 } : countBatch(kit, batch);
  const plan = batch === null ? null : planOfBatch(kit, batch.key);
  const next = frames.find(
    (frame) =>
      frame.planned !== false &&
      frame.inspections === 0 &&
      (frame.leaseDeviceId === null || frame.leaseDeviceId === state.deviceId),
  );
  return (
    <PageFrame titleBlock={<StationBlock device={device} state={state} inspector={inspector} onMove={onMove} />}>
      <div className={styles.chooseHead}>
        <h1>{words.scanFrame}</h1>
        <QueueBox device={device} state={state} />
      </div>
      <NewProgram state={state} />
      {state.revoked === null ? null : <ErrorNotice title={state.revoked} />}
      {state.stationClosed === null ? null : (
        <ErrorNotice
          title={state.stationClosed}
          keys={
            <Button size="touch" onClick={onMove}>
              {words.chooseAnotherStation}
            </Button>
          }
        />
      )}
      {notice && notice.text !== state.stationClosed && notice.text !== state.revoked ? (
        notice.tone === "done" ? (
          <p role="status" className={parts.done}>
            <StateMark state="go" size="s" wordBeside /> {notice.text}
          </p>
        ) : (
          <ErrorNotice tone={notice.tone} title={notice.text} />
        )
      ) : null}
      <FirstOffNote device={device} zone={kit?.zone ?? "UTC"} />
      <ZeroDue device={device} state={state} plan={plan} />
      <ScanField
        label={words.serialBatchOrBadge}
        placeholder={words.scanOrType}
        onScan={(text) => void device.enter(text)}
      />
      {state.aside.length > 0 ? (
        <Sheet label={words.framesWereStarted}>
          <SectionHeading aside={words.onDevice}>{words.startedNotFinished}</SectionHeading>
          <ul className={styles.asideList}>
            {state.aside.map((session) => (
              <li key={session.id}>
                <span>
                  {words.inOfReadings(
                    <b className="mono">{session.serial}</b>,
                    session.batch,
                    session.readings.filter((reading) => reading !== null).length,
                    session.readings.length,
                  )}
                </span>
                <Button size="touch" kind="go" onClick={() => void device.resume(session.id)}>
                  {words.goOn}
                </Button>
                <Button size="touch" onClick={() => setGivingUp(session.id)}>
                  {words.giveUp}
                </Button>
              </li>
            ))}
          </ul>
        </Sheet>
      ) : null}
      <div className={styles.choose}>
        <section>
          <SectionHeading aside={words.batches(open.length)}>{words.batchesToMeasureHere}</SectionHeading>
          {batches.length === 0 ? (
            <EmptyState title={words.noBatchIsOpen}>{words.batchIsEnteredInSetup}</EmptyState>
          ) : (
            <>
              {open.length === 0 ? <p className={parts.done}>{words.everyBatchOnLine}</p> : null}
              <BatchList device={device} state={state} batches={open} />
              {measured.length === 0 ? null : (
                <details className={styles.measured}>
                  <summary>{words.measuredHereAlready(measured.length)}</summary>
                  <BatchList device={device} state={state} batches={measured} />
                </details>
              )}
            </>
          )}
        </section>
        <section>
          <SectionHeading
            aside={
              batch === null
                ? ""
                : words.left(count.planned - count.measured, plannedText(plan, count.planned, batch?.frames ?? 0))
            }
          >
            {batch === null ? words.frames : words.framesOf(batch.key)}
          </SectionHeading>
          {batch === null ? (
            <EmptyState title={words.noBatchIsChosen}>{words.scanFrameOrChooseBatch}</EmptyState>
          ) : frames.length === 0 ? (
            <EmptyState title={words.framesAreNotOnDevice}>{words.scanSerialOf}</EmptyState>
          ) : (
            <>
              <div className={styles.cells}>
                <ProgressCells
                  label={words.ofMeasured(count.measured, count.planned)}
                  cells={frames
                    .filter((frame) => frame.planned !== false || frame.inspections > 0)
                    .map((frame) =>
                      frame.inspections === 0
                        ? "left"
                        : frame.verdict === "conforms"
                          ? "done"
                          : frame.verdict === "does not conform"
                            ? "failed"
                            : "doubtful",
                    )}
                />
              </div>
              {next ? (
                <p className={styles.nextFrame}>
                  <Button size="touch" onClick={() => void device.enter(next.serial)}>
                    {words.startWithoutScan(next.serial)}
                  </Button>
                </p>
              ) : (
                <p className={parts.done}>{words.everyFramePlanAsks}</p>
              )}
              <FrameList frames={frames} next={next} deviceId={state.deviceId} />
            </>
          )}
        </section>
      </div>
      <section className={styles.gaugeSection}>
        <SectionHeading aside={words.calibrationAndZero}>{words.gaugesAtHand}</SectionHeading>
        {(kit?.gauges ?? []).length === 0 ? (
          <EmptyState title={words.noGaugeIsEntered}>{words.engineerEntersGauges}</EmptyState>
        ) : (
          <GaugeList device={device} state={state} />
        )}
      </section>
      {givingUp === null ? null : (
        <ReasonDialog
          title={words.giveFrameUp}
          reasons={GIVE_UP_REASONS}
          onReason={(reason) => {
            void device.giveUp(givingUp, reason);
            setGivingUp(null);
          }}
          onClose={() => setGivingUp(null)}
        >
          <p>{words.isFreeForAnotherDevice}</p>
        </ReasonDialog>
      )}
    </PageFrame>
  );
}

/** Batches as keys: what is left of each, and who else has it in hand. */
function BatchList({
  device,
  state: { kit, settings, deviceId },
  batches,
}: Readonly<{ device: LineDevice; state: LineState; batches: readonly StationBatch[] }>) {
  return (
    <ul className={styles.batches}>
      {batches.map((one) => (
        <li key={one.id}>
          <button
            type="button"
            aria-pressed={one.key === settings.batch}
            className={styles.batch}
            onClick={() => void device.chooseBatch(one.key)}
          >
            <b className="mono nowrap">{one.key}</b>
            <span>
              {one.supplier}, {one.model}
              {inHandElsewhere(one, deviceId, kit?.zone ?? "UTC")}
            </span>
            <span className={styles.count}>
              {words.ofPlanned(countBatch(kit, one).measured, countBatch(kit, one).planned)}
              {one.held ? <StateMark state="held" size="s" /> : null}
            </span>
          </button>
        </li>
      ))}
    </ul>
  );
}

/** Frames that are seen at once, from the next one on: a station's screen shows them without scrolling. */
const FIRST_FRAMES = 9;
const NO_FRAMES: readonly StationFrame[] = [];

type FramesProps = Readonly<{ frames: readonly StationFrame[]; deviceId: string }>;

/** The next frames of a batch, and behind a line all of them; those are drawn after the screen, so that a scan need not wait. */
function FrameList({ frames, next, deviceId }: FramesProps & Readonly<{ next: StationFrame | undefined }>) {
  const all = useDeferredValue(frames, NO_FRAMES);
  if (frames.length <= FIRST_FRAMES) return <Frames frames={frames} deviceId={deviceId} />;
  const from = Math.min(next === undefined ? 0 : frames.indexOf(next), frames.length - FIRST_FRAMES);
  return (
    <>
      <Frames frames={frames.slice(from, from + FIRST_FRAMES)} deviceId={deviceId} />
      <details className={styles.measured}>
        <summary>{words.allFrames(frames.length)}</summary>
        <Frames frames={all} deviceId={deviceId} />
      </details>
    </>
  );
}

function Frames({ frames, deviceId }: FramesProps) {
  return (
    <ul className={styles.frames}>
      {frames.map((frame) => (
        <li key={frame.serial}>
          <StateMark state={verdictWord(frame.verdict, frame.inspections)} size="s" wordBeside />
          <span className="mono">{frame.serial}</span>
          {frame.leaseDeviceId !== null && frame.leaseDeviceId !== deviceId ? (
            <small>{words.onAnotherDevice}</small>
          ) : null}
          {frame.planned === false ? <small>{words.outsidePlan}</small> : null}
        </li>
      ))}
    </ul>
  );
}

/** What the line waits for at the start of a shift or after an event. */
function FirstOffNote({ device, zone }: Readonly<{ device: LineDevice; zone: string }>) {
  const line = device.firstOff();
  if (line.kind === "free") return null;
  const since = formatMoment(line.since, { zone });
  return (
    <p role="status" className={styles.firstOff}>
      <StateMark state={line.kind === "waits" ? "held" : "not measured"} size="m" wordBeside />
      <span>
        <b>{line.kind === "waits" ? words.lineWaitsForRelease(line.serial) : words.nextFrameIsFirstOff}</b>
        <small>
          {line.why}, {since}
          {line.kind === "asked" && line.failed !== null ? words.wasNoBasisForRelease(line.failed) : ""}
        </small>
      </span>
    </p>
  );
}

/** Who, where, with what: the device's settings in the title block. */
function StationBlock({
  device,
  state,
  inspector,
  onMove,
}: Readonly<{ device: LineDevice; state: LineState; inspector: string; onMove: () => void }>) {
  const { kit, settings } = state;
  const gauges = gaugesAtHand(kit, settings);
  const bore = kit?.gauges.find((gauge) => gauge.key === gauges.bore);
  return (
    <>
      <div className={styles.settings}>
        <SegmentedChoice
          name="side"
          label={words.iStandAt}
          touch
          value={settings.side}
          choices={[
            { value: "ds", label: words.ds },
            { value: "nds", label: words.nds },
          ]}
          onChange={(side) => void device.changeSettings({ side })}
        />
        <SegmentedChoice
          name="bore-entry"
          label={words.boreGaugeShows}
          touch
          value={(bore?.ringMm ?? null) === null ? "size" : settings.boreEntry}
          choices={[
            { value: "size", label: words.size },
            { value: "deviation", label: words.ring, disabled: (bore?.ringMm ?? null) === null },
          ]}
          onChange={(boreEntry) => void device.changeSettings({ boreEntry })}
        />
        <SegmentedChoice
          name="small-unit"
          label={words.indicatorsShow}
          touch
          value={settings.smallUnit}
          choices={[
            { value: "µm", label: words.um },
            { value: "mm", label: words.mm },
          ]}
          onChange={(smallUnit) => void device.changeSettings({ smallUnit })}
        />
        <SegmentedChoice
          name="sound"
          label={words.sound}
          touch
          value={settings.muted ? "off" : "on"}
          choices={[
            { value: "on", label: words.on },
            { value: "off", label: words.off },
          ]}
          onChange={(sound) => void device.changeSettings({ muted: sound === "off" })}
        />
        <SegmentedChoice
          name="decimal"
          label={words.decimalSign}
          touch
          value={settings.decimal}
          choices={[
            { value: ".", label: "40.9" },
            { value: ",", label: "40,9" },
          ]}
          onChange={(decimal) => void device.changeSettings({ decimal })}
        />
      </div>
      <TitleBlock
        touch
        cells={[
          { label: words.lineStation, value: `${kit?.station.line ?? ""}, ${kit?.station.name ?? ""}` },
          { label: words.operation, value: kit?.station.operation ?? "" },
          { label: words.inspectorScanBadgeToChange, value: inspector },
          {
            label: words.boreGaugeCalibratedUntil,
            value: bore
              ? `${bore.key}, ${calibratedUntilText(bore, serverTimeMs(state, Date.now()), kit) ?? words.noCalibration}${bore.zeroFailed === true ? words.zeroCheckFailedReadingsProve : ""}`
              : words.noneEntered,
          },
          {
            label: words.thisDevice,
            value: (
              <>
                {state.deviceName ?? words.notNamedYet}{" "}
                <Button kind="quiet" onClick={onMove}>
                  {words.changeStation}
                </Button>
              </>
            ),
          },
        ]}
      />
    </>
  );
}
