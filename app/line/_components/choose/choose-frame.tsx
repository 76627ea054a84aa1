"use client";

import { useDeferredValue, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { countBatch, type LineState, planOfBatch, serverTimeMs } from "@/lib/offline/device/line-state";
import { calibratedUntilText, gaugesAtHand } from "@/lib/offline/device/station-gauges";
import type { StationBatch, StationFrame, StationPlan } from "@/lib/schemas/station-package";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
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
import parts from "../parts/parts.module.css";
import styles from "./choose.module.css";

type ChooseFrameProps = Readonly<{
  device: LineDevice;
  state: LineState;
  inspector: string;
  build: string | null;
  /** The device is to stand at another station. */
  onMove: () => void;
}>;

const GIVE_UP_REASONS = ["wrong frame scanned", "frame taken away", "gauge out of order"];

function verdictWord(verdict: string | null, inspections: number) {
  if (inspections === 0) return "unmeasured";
  return verdict === "conforms" || verdict === "not proven" || verdict === "does not conform"
    ? verdict
    : "not measured";
}

/** Other devices that have the batch in hand: each frame is leased by itself, so that both can go on. */
function inHandElsewhere({ devices = [] }: StationBatch, deviceId: string, zone: string): string {
  const others = devices.filter(({ id }) => id !== deviceId);
  return others.length === 0 ? "" : `; also in hand on ${holdersText(others, zone)}`;
}

/** Which frames the plan asks for, where it is not all of them. */
function plannedText(plan: StationPlan | null, planned: number): string {
  if (plan === null || plan.frames.kind === "all") return "";
  const { kind, n, firstOff } = plan.frames;
  if (kind === "drawn") return `, ${formatCounted(planned, "frame")} drawn`;
  return `, ${firstOff === true ? "the first and " : ""}one in ${n ?? 1}`;
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
        <h1>Scan a frame</h1>
        <QueueBox device={device} state={state} />
      </div>
      <NewProgram state={state} />
      {state.revoked === null ? null : <ErrorNotice title={state.revoked} />}
      {state.stationClosed === null ? null : (
        <ErrorNotice
          title={state.stationClosed}
          keys={
            <Button size="touch" onClick={onMove}>
              Choose another station
            </Button>
          }
        />
      )}
      {notice && notice.text !== state.stationClosed ? (
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
      <ScanField label="Serial, batch or badge" placeholder="scan or type" onScan={(text) => void device.enter(text)} />
      {state.aside.length > 0 ? (
        <Sheet label="Frames that were started">
          <SectionHeading aside="on this device">Started, not finished</SectionHeading>
          <ul className={styles.asideList}>
            {state.aside.map((session) => (
              <li key={session.id}>
                <span>
                  <b className="mono">{session.serial}</b> in {session.batch},{" "}
                  {session.readings.filter((reading) => reading !== null).length} of {session.readings.length} readings
                </span>
                <Button size="touch" kind="go" onClick={() => void device.resume(session.id)}>
                  Go on
                </Button>
                <Button size="touch" onClick={() => setGivingUp(session.id)}>
                  Give up
                </Button>
              </li>
            ))}
          </ul>
        </Sheet>
      ) : null}
      <div className={styles.choose}>
        <section>
          <SectionHeading aside={formatCounted(open.length, "batch", "batches")}>
            Batches to measure here
          </SectionHeading>
          {batches.length === 0 ? (
            <EmptyState title="No batch is open on this line">
              A batch is entered in Setup, or by the program that orders frames.
            </EmptyState>
          ) : (
            <>
              {open.length === 0 ? <p className={parts.done}>Every batch on this line is measured here.</p> : null}
              <BatchList device={device} state={state} batches={open} />
              {measured.length === 0 ? null : (
                <details className={styles.measured}>
                  <summary>{formatCounted(measured.length, "batch", "batches")} measured here already</summary>
                  <BatchList device={device} state={state} batches={measured} />
                </details>
              )}
            </>
          )}
        </section>
        <section>
          <SectionHeading
            aside={batch === null ? "" : `${count.planned - count.measured} left${plannedText(plan, count.planned)}`}
          >
            {batch === null ? "Frames" : `Frames of ${batch.key}`}
          </SectionHeading>
          {batch === null ? (
            <EmptyState title="No batch is chosen">
              Scan a frame, or choose a batch to see what is left of it.
            </EmptyState>
          ) : frames.length === 0 ? (
            <EmptyState title="Its frames are not on this device">
              Scan a serial of it: the device asks the server.
            </EmptyState>
          ) : (
            <>
              <div className={styles.cells}>
                <ProgressCells
                  label={`${count.measured} of ${count.planned} measured`}
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
                    Start {next.serial} without a scan
                  </Button>
                </p>
              ) : (
                <p className={parts.done}>Every frame that the plan asks for is measured or in hand elsewhere.</p>
              )}
              <FrameList frames={frames} deviceId={state.deviceId} />
            </>
          )}
        </section>
      </div>
      <section className={styles.gaugeSection}>
        <SectionHeading aside="calibration and zero">Gauges at hand</SectionHeading>
        {(kit?.gauges ?? []).length === 0 ? (
          <EmptyState title="No gauge is entered for this station">
            An engineer enters gauges, their setting rings and calibrations in Setup. Readings then carry them.
          </EmptyState>
        ) : (
          <GaugeList device={device} state={state} />
        )}
      </section>
      {givingUp === null ? null : (
        <ReasonDialog
          title="Give this frame up?"
          reasons={GIVE_UP_REASONS}
          onReason={(reason) => {
            void device.giveUp(givingUp, reason);
            setGivingUp(null);
          }}
          onClose={() => setGivingUp(null)}
        >
          <p>It is free for another device then. What was keyed stays in this device’s own record.</p>
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
              {countBatch(kit, one).measured} of {countBatch(kit, one).planned}
              {one.held ? <StateMark state="held" size="s" /> : null}
            </span>
          </button>
        </li>
      ))}
    </ul>
  );
}

/** Frames that are drawn with the screen; the rest of a long batch follows at once, so that a scan need not wait for it. */
const FIRST_FRAMES = 24;

function FrameList({ frames, deviceId }: Readonly<{ frames: readonly StationFrame[]; deviceId: string }>) {
  const shown = useDeferredValue(frames, frames.slice(0, FIRST_FRAMES));
  return (
    <ul className={styles.frames}>
      {shown.map((frame) => (
        <li key={frame.serial}>
          <StateMark state={verdictWord(frame.verdict, frame.inspections)} size="s" wordBeside />
          <span className="mono">{frame.serial}</span>
          {frame.leaseDeviceId !== null && frame.leaseDeviceId !== deviceId ? <small>on another device</small> : null}
          {frame.planned === false ? <small>outside the plan</small> : null}
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
        <b>
          {line.kind === "waits"
            ? `The line waits for the release of first-off ${line.serial} by an engineer`
            : "The next frame is the first-off: it is measured in full, then the line waits for an engineer"}
        </b>
        <small>
          {line.why}, {since}
          {line.kind === "asked" && line.failed !== null ? `; ${line.failed} was no basis for a release` : ""}
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
          label="I stand at the"
          touch
          value={settings.side}
          choices={[
            { value: "ds", label: "DS" },
            { value: "nds", label: "NDS" },
          ]}
          onChange={(side) => void device.changeSettings({ side })}
        />
        <SegmentedChoice
          name="bore-entry"
          label="Bore gauge shows"
          touch
          value={(bore?.ringMm ?? null) === null ? "size" : settings.boreEntry}
          choices={[
            { value: "size", label: "size" },
            { value: "deviation", label: "± ring", disabled: (bore?.ringMm ?? null) === null },
          ]}
          onChange={(boreEntry) => void device.changeSettings({ boreEntry })}
        />
        <SegmentedChoice
          name="small-unit"
          label="Indicators show"
          touch
          value={settings.smallUnit}
          choices={[
            { value: "µm", label: "µm" },
            { value: "mm", label: "mm" },
          ]}
          onChange={(smallUnit) => void device.changeSettings({ smallUnit })}
        />
        <SegmentedChoice
          name="sound"
          label="Sound"
          touch
          value={settings.muted ? "off" : "on"}
          choices={[
            { value: "on", label: "on" },
            { value: "off", label: "off" },
          ]}
          onChange={(sound) => void device.changeSettings({ muted: sound === "off" })}
        />
        <SegmentedChoice
          name="decimal"
          label="Decimal sign"
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
          { label: "line, station", value: `${kit?.station.line ?? ""}, ${kit?.station.name ?? ""}` },
          { label: "operation", value: kit?.station.operation ?? "" },
          { label: "inspector (scan a badge to change)", value: inspector },
          {
            label: "bore gauge, calibrated until",
            value: bore
              ? `${bore.key}, ${calibratedUntilText(bore, serverTimeMs(state, Date.now()), kit) ?? "no calibration"}${bore.zeroFailed === true ? ": zero check failed, its readings prove nothing" : ""}`
              : "none entered",
          },
          {
            label: "this device",
            value: (
              <>
                {state.deviceName ?? "not named yet"}{" "}
                <Button kind="quiet" onClick={onMove}>
                  Change station
                </Button>
              </>
            ),
          },
        ]}
      />
    </>
  );
}
