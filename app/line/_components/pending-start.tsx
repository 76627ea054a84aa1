"use client";

import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState, PendingStart as Pending } from "@/lib/offline/line-state";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { ReasonDialog } from "./reason-dialog";

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
        <p>Why is it measured again? The mean of all valid inspections decides, and the count is shown.</p>
      </ReasonDialog>
    );
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
