"use client";

import { useState } from "react";
import {
  isCheck,
  isDifferent,
  isToBeRead,
  type SentInspection,
  type StoredEntry,
} from "@/lib/offline/device/device-database";
import type { LineDevice } from "@/lib/offline/line-device";
import { isStorageShort, type LineState } from "@/lib/offline/device/line-state";
import { formatDuration } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import { Button, ButtonLink } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { KeyValues } from "@/lib/ui/key-values";
import { StateMark } from "@/lib/ui/state-mark";
import { refusalWords } from "./refusal-words";
import parts from "../parts/parts.module.css";
import styles from "./queue.module.css";

type QueueDialogProps = Readonly<{ device: LineDevice; state: LineState; onClose: () => void; now: number }>;

function saveFile(text: string, deviceId: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const link = document.createElement("a");
  link.href = address;
  link.download = `line-queue-${deviceId}-${new Date().toISOString().slice(0, 16).replace(":", "")}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

function inMegabytes(bytes: number | null): string {
  return bytes === null ? "not known" : `${formatFixed(bytes / 1e6, 1)} MB`;
}

function Refused({ device, entry, zone }: Readonly<{ device: LineDevice; entry: StoredEntry; zone: string }>) {
  const [reason, setReason] = useState("");
  const isZero = isCheck(entry);
  const { title, text } = refusalWords(entry.refusal, zone);
  return (
    <li className={styles.refused}>
      <p>
        <StateMark state="stop" size="s" wordBeside />{" "}
        <b className="mono">{isZero ? `zero check ${entry.check.gauge}` : entry.inspection.serial}</b> {title}
      </p>
      <p className="soft">{text}</p>
      {isZero ? null : (
        <label>
          Why it is sent again
          <input value={reason} maxLength={500} onChange={(event) => setReason(event.target.value)} />
        </label>
      )}
      <div className={parts.keys}>
        <Button
          size="touch"
          disabled={!isZero && reason.trim() === ""}
          onClick={() => void device.decide(entry.order, { kind: "again", reason })}
        >
          Send again
        </Button>
        <Button size="touch" onClick={() => void device.decide(entry.order, { kind: "aside" })}>
          Put aside
        </Button>
      </div>
    </li>
  );
}

/** What the server said of an inspection whose verdict nobody looked at any more. */
function SentAnswer({ sent }: Readonly<{ sent: SentInspection }>) {
  const { serial, verdict, deviceVerdict, warnings, doubts = [] } = sent;
  return (
    <li>
      <p>
        <StateMark state={verdict} size="s" wordBeside /> <b className="mono">{serial}</b> {verdict}
        {sent.held ? ", held" : ""}
        {sent.batchHeld ? `; batch ${sent.batch} is held` : ""}
      </p>
      {isDifferent(sent) ? (
        <p>
          This device’s result was “{deviceVerdict}”. The server’s is the record: report this fault to whoever looks
          after Shellgate.
        </p>
      ) : null}
      {[...warnings, ...(verdict === deviceVerdict ? [] : doubts)].map((text) => (
        <p key={text}>{text}</p>
      ))}
    </li>
  );
}

/** The queue of this device: what waits, what a person has to decide, and the way to a file and back. */
export function QueueDialog({ device, state, onClose, now }: QueueDialogProps) {
  const entries: StoredEntry[] = [...state.queue, ...state.checks].sort((a, b) => a.order - b.order);
  const refused = entries.filter((entry) => entry.state === "refused");
  const aside = entries.filter((entry) => entry.state === "aside");
  const waiting = entries.filter((entry) => entry.state === "waiting");
  const frames = waiting.filter((entry) => !isCheck(entry)).length;
  const oldest = waiting[0];
  const { skew, storage } = state;
  const toRead = state.sent.filter(isToBeRead);
  return (
    <Dialog
      open
      title="What is on this device"
      onClose={onClose}
      keys={
        <>
          <Button kind="go" size="touch" onClick={onClose}>
            Close
          </Button>
          <Button size="touch" onClick={() => void device.send()}>
            Send now
          </Button>
          <Button size="touch" onClick={() => void device.saveText().then((text) => saveFile(text, state.deviceId))}>
            Save to a file
          </Button>
          <label className={parts.file}>
            Load from a file
            <input
              type="file"
              accept="application/json,.json"
              onChange={(event) => {
                const file = event.target.files?.[0];
                if (file) void file.text().then((text) => device.loadText(text));
                event.target.value = "";
              }}
            />
          </label>
        </>
      }
    >
      {state.network === "signed out" ? (
        <p className={styles.signIn}>
          You are signed out. Everything here stays; it is sent as soon as somebody has signed in.{" "}
          <ButtonLink href="/sign-in?next=/line" size="touch">
            Sign in
          </ButtonLink>
        </p>
      ) : null}
      {state.notice ? <p role="status">{state.notice.text}</p> : null}
      {refused.length > 0 ? (
        <ul className={styles.refusals}>
          {refused.map((entry) => (
            <Refused key={entry.order} device={device} entry={entry} zone={state.kit?.zone ?? "UTC"} />
          ))}
        </ul>
      ) : null}
      {aside.length > 0 ? (
        <ul className={styles.asideEntries} aria-label="Put aside">
          {aside.map((entry) => (
            <li key={entry.order}>
              <span>
                <b className="mono">{isCheck(entry) ? `zero check ${entry.check.gauge}` : entry.inspection.serial}</b>{" "}
                is put aside: the server does not have it.
              </span>
              <Button size="touch" onClick={() => void device.decide(entry.order, { kind: "anew" })}>
                Decide again
              </Button>
            </li>
          ))}
        </ul>
      ) : null}
      {toRead.length > 0 ? (
        <section aria-label="Answers to read">
          <ul className={styles.refusals}>
            {toRead.map((sent) => (
              <SentAnswer key={sent.id} sent={sent} />
            ))}
          </ul>
          <Button size="touch" onClick={() => void device.markRead(toRead.map(({ id }) => id))}>
            Read
          </Button>
        </section>
      ) : null}
      {isStorageShort(storage) ? (
        <p className={parts.refusal} role="alert">
          The storage of this device is nearly full. Delete what is not needed on it, or send the queue: readings are
          refused when there is no room to keep them.
        </p>
      ) : null}
      <KeyValues
        pairs={[
          {
            label: "waiting to be sent",
            value: oldest
              ? `${formatCounted(frames, "frame")}${frames < waiting.length ? ` and ${formatCounted(waiting.length - frames, "zero check")}` : ""}, oldest ${formatDuration((now - oldest.queuedAt) / 1000)}`
              : "none",
          },
          ...(state.photos.length > 0
            ? [
                {
                  label: "photos to be sent",
                  value: state.photos
                    .map(({ serial, refusal }) => (refusal === null ? serial : `${serial}: ${refusal}`))
                    .join(", "),
                },
              ]
            : []),
          {
            label: "started, not finished",
            value: state.aside.length === 0 ? "none" : state.aside.map((session) => session.serial).join(", "),
          },
          {
            label: "clock of this device",
            value:
              skew === null
                ? "not compared yet"
                : `${formatFixed(Math.abs(skew.skewMs) / 1000, 1)} s ${skew.skewMs < 0 ? "behind" : "ahead of"} the server, ±${formatFixed(skew.uncertaintyMs / 1000, 2)} s`,
          },
          {
            label: "storage",
            value: `${inMegabytes(storage.usedBytes)} of ${inMegabytes(storage.quotaBytes)}, ${storage.persisted ? "kept for good" : "the browser may clear it when space is short"}`,
          },
          { label: "device", value: state.deviceName ?? "not named yet" },
          { label: "key of the device", value: <span className="mono">{state.deviceId}</span> },
        ]}
      />
    </Dialog>
  );
}
