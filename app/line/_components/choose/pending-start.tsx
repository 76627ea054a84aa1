"use client";

import { formatMoment } from "@/lib/format/date-text";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState, PendingStart as Pending } from "@/lib/offline/device/line-state";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { ReasonDialog } from "../parts/reason-dialog";
import { PENDING_START_WORDS } from "../../words/pending-start";

const words = PENDING_START_WORDS.pendingStart;

const REASONS = [words.afterRework, words.readingInDoubt, words.cleanedAndMeasuredAgain, words.askedForByEngineer];

/** What has to be said before a scanned frame is started. */
export function PendingStart({
  device,
  state,
  pending,
}: Readonly<{ device: LineDevice; state: LineState; pending: Pending }>) {
  const { serial, batch, why } = pending;
  if (why === "measured before")
    return (
      <ReasonDialog
        title={words.frameWasMeasuredBefore(serial)}
        reasons={REASONS}
        onReason={(reason) => void device.agree(reason)}
        onClose={() => void device.disagree()}
      >
        <p>{words.whyIsMeasuredAgainAll}</p>
      </ReasonDialog>
    );
  if (why === "other line") return <OtherLine device={device} state={state} pending={pending} />;
  if (why === "first-off") return <FirstOffWait device={device} state={state} serial={serial} />;
  if (why === "gauge" && pending.gauge !== undefined)
    return <DoubtfulGauge device={device} serial={serial} gauge={pending.gauge} />;
  const session = state.session;
  const done = session?.readings.filter((reading) => reading !== null).length ?? 0;
  return (
    <Dialog
      open
      title={
        why === "other batch" ? words.frameIsOfAnotherBatch(serial) : words.frameIsNotFinished(session?.serial ?? "")
      }
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            {why === "other batch" ? words.scanAgain : words.goOnWith(session?.serial ?? words.thisOne)}
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            {why === "other batch" ? words.changeToBatch(batch) : words.putAsideStart(serial)}
          </Button>
        </>
      }
    >
      {why === "other batch" ? (
        <p>{words.belongsToBatch(batch, state.settings.batch)}</p>
      ) : (
        <p>{words.ofReadingsAreKeyed(done, session?.readings.length ?? 0)}</p>
      )}
    </Dialog>
  );
}

/** A frame of another line: the right one was hardly ever scanned, so that Enter puts it aside. */
function OtherLine({ device, state, pending }: Readonly<{ device: LineDevice; state: LineState; pending: Pending }>) {
  const { serial, batch, line } = pending;
  return (
    <Dialog
      open
      title={words.frameBelongsToLine(line ?? "")}
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            {words.noPutAside}
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            {words.yesMeasureHere}
          </Button>
        </>
      }
    >
      <p>{words.frameIsOfBatch(serial, batch, line, state.kit?.station.line ?? "")}</p>
    </Dialog>
  );
}

const EARLY_REASONS = [words.askedForByEngineer, words.toAdjustProcess, words.frameWasMadeBefore];

/** The line waits for the release of its first-off: look again, or measure with a reason that stays in the record. */
function FirstOffWait({ device, state, serial }: Readonly<{ device: LineDevice; state: LineState; serial: string }>) {
  const line = device.firstOff();
  const zone = state.kit?.zone ?? "UTC";
  return (
    <ReasonDialog
      title={words.lineWaitsForEngineer}
      reasons={EARLY_REASONS}
      first={{ text: words.lookAgain, onPress: () => void device.lookAgain() }}
      onReason={(reason) => void device.agree(reason)}
      onClose={() => void device.disagree()}
    >
      {line.kind === "waits" ? (
        <p>{words.firstOffIsMeasured(line.serial, line.why, formatMoment(line.since, { zone }))}</p>
      ) : null}
      {state.notice === null ? null : <p role="status">{state.notice.text}</p>}
      <p>{words.measureAllSameReasonStays(serial)}</p>
    </ReasonDialog>
  );
}

/** A gauge whose readings prove nothing: asked about before it is used, once. */
function DoubtfulGauge({
  device,
  serial,
  gauge,
}: Readonly<{ device: LineDevice; serial: string; gauge: { readonly key: string; readonly doubt: string } }>) {
  return (
    <Dialog
      open
      title={words.measureWith(serial, gauge.key)}
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            {words.backTakeAnotherGauge}
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            {words.measureAllSame}
          </Button>
        </>
      }
    >
      <p>{words.provesNothingForRelease(gauge.key, gauge.doubt)}</p>
    </Dialog>
  );
}
