"use client";

import { formatMoment } from "@/lib/format/date-text";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState, PendingStart as Pending } from "@/lib/offline/device/line-state";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { ReasonDialog } from "../parts/reason-dialog";

const REASONS = ["after rework", "reading in doubt", "cleaned and measured again", "asked for by the engineer"];

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
        title={`Frame ${serial} was measured before`}
        reasons={REASONS}
        onReason={(reason) => void device.agree(reason)}
        onClose={() => void device.disagree()}
      >
        <p>Why is it measured again? All valid inspections decide together, and the count is shown.</p>
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
        why === "other batch" ? `Frame ${serial} is of another batch` : `Frame ${session?.serial ?? ""} is not finished`
      }
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            {why === "other batch" ? "Scan again" : `Go on with ${session?.serial ?? "this one"}`}
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            {why === "other batch" ? `Change to batch ${batch}` : `Put it aside, start ${serial}`}
          </Button>
        </>
      }
    >
      {why === "other batch" ? (
        <p>
          It belongs to batch {batch}; batch {state.settings.batch} is in hand. Was the right frame scanned?
        </p>
      ) : (
        <p>
          {done} of {session?.readings.length ?? 0} readings are keyed. Put aside, they stay on this device and the
          frame can be gone on with later.
        </p>
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
      title={`This frame belongs to line ${line ?? ""}. Measure it here?`}
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            No, put it aside
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            Yes, measure it here
          </Button>
        </>
      }
    >
      <p>
        Frame {serial} is of batch {batch} and line {line}; this station is of line {state.kit?.station.line ?? ""}.
        Measured here, it is measured by the plan of its batch, and your answer stays in its record.
      </p>
    </Dialog>
  );
}

const EARLY_REASONS = ["asked for by the engineer", "to adjust the process", "frame was made before"];

/** The line waits for the release of its first-off: look again, or measure with a reason that stays in the record. */
function FirstOffWait({ device, state, serial }: Readonly<{ device: LineDevice; state: LineState; serial: string }>) {
  const line = device.firstOff();
  const zone = state.kit?.zone ?? "UTC";
  return (
    <ReasonDialog
      title="The line waits for an engineer"
      reasons={EARLY_REASONS}
      first={{ text: "Look again", onPress: () => void device.lookAgain() }}
      onReason={(reason) => void device.agree(reason)}
      onClose={() => void device.disagree()}
    >
      {line.kind === "waits" ? (
        <p>
          First-off {line.serial} is measured and conforms. Until an engineer has released it ({line.why},{" "}
          {formatMoment(line.since, { zone })}), nothing more is made on this line.
        </p>
      ) : null}
      {state.notice === null ? null : <p role="status">{state.notice.text}</p>}
      <p>Measure {serial} all the same? The reason stays in its record.</p>
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
      title={`Measure ${serial} with ${gauge.key}?`}
      onClose={() => void device.disagree()}
      keys={
        <>
          <Button kind="go" size="touch" autoFocus onClick={() => void device.disagree()}>
            Back, take another gauge
          </Button>
          <Button size="touch" onClick={() => void device.agree()}>
            Measure all the same
          </Button>
        </>
      }
    >
      <p>
        {gauge.key} proves nothing for a release: {gauge.doubt}. There is no other one in order at this station. Frames
        measured with it are held.
      </p>
    </Dialog>
  );
}
