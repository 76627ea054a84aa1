import { memo } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { findFrame, type LineState } from "@/lib/offline/device/line-state";
import { ProgressCells, type ProgressCell } from "@/lib/ui/progress-cells";
import { QueueBox } from "../queue/queue-box";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import parts from "../parts/screen.module.css";
import styles from "./head.module.css";

const words = FIRST_SCREEN_WORDS.head;

type LineHeadProps = Readonly<{
  device: LineDevice;
  state: LineState;
  serial: string;
  batch: string;
  /** Said of the frame before its batch. */
  mark?: string | null;
}>;

function cellOf(frame: { serial: string; verdict: string | null; inspections: number }, serial: string): ProgressCell {
  if (frame.serial === serial) return "current";
  if (frame.inspections === 0) return "left";
  if (frame.verdict === "does not conform") return "failed";
  return frame.verdict === "conforms" ? "done" : "doubtful";
}

type PlaceProps = Readonly<{ kit: LineState["kit"]; serial: string; batch: string; mark: string | null }>;

/** The frame's place in its batch; it does not change while the frame is keyed. */
const FramePlace = memo(function FramePlace({ kit, serial, batch, mark }: PlaceProps) {
  const all = kit?.frames.find((one) => one.batch === batch)?.frames ?? [];
  const frames = all.filter((frame) => frame.planned !== false || frame.serial === serial);
  const outside = all.some((frame) => frame.serial === serial && frame.planned === false);
  const position = findFrame(kit, serial)?.frame.position ?? null;
  const supplier = kit?.batches.find((one) => one.key === batch)?.supplier;
  const measured = frames.filter((frame) => frame.inspections > 0).length;
  return (
    <div className={parts.place}>
      <p>
        {words.inBatch(
          <b>{position === null ? words.frame : words.frameOf(position, all.length)}</b>,
          <span className="nowrap">{batch}</span>,
        )}
        {supplier ? <span className={styles.supplier}>, {supplier}</span> : null}
        {outside ? <b>{words.outsidePlan}</b> : null}
        {mark === null ? null : <b>, {mark}</b>}
      </p>
      {frames.length > 0 ? (
        <ProgressCells
          cells={frames.map((frame) => cellOf(frame, serial))}
          label={words.ofFramesPlanAsks(measured, frames.length)}
        />
      ) : null}
    </div>
  );
});

/** Which frame it is, how far the batch is, and what waits on this device. */
export function LineHead({ device, state, serial, batch, mark = null }: LineHeadProps) {
  return (
    <header className={parts.head}>
      <p className={parts.serial}>{serial}</p>
      <FramePlace kit={state.kit} serial={serial} batch={batch} mark={mark} />
      <QueueBox device={device} state={state} />
    </header>
  );
}
