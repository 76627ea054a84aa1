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
import { formatFixed } from "@/lib/format/number-text";
import { Button, ButtonLink } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { KeyValues } from "@/lib/ui/key-values";
import { StateMark } from "@/lib/ui/state-mark";
import { refusalWords } from "./refusal-words";
import { LINE_DIALOG_WORDS } from "../../words/dialogs";
import parts from "../parts/parts.module.css";
import styles from "./queue.module.css";

const words = LINE_DIALOG_WORDS.queue;

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
  return bytes === null ? words.notKnown : words.mb(formatFixed(bytes / 1e6, 1));
}

function Refused({ device, entry, zone }: Readonly<{ device: LineDevice; entry: StoredEntry; zone: string }>) {
  const [reason, setReason] = useState("");
  const isZero = isCheck(entry);
  const { title, text } = refusalWords(entry.refusal, zone);
  return (
    <li className={styles.refused}>
      <p>
        <StateMark state="stop" size="s" wordBeside />{" "}
        <b className="mono">{isZero ? words.zeroCheck(entry.check.gauge) : entry.inspection.serial}</b> {title}
      </p>
      <p className="soft">{text}</p>
      {isZero ? null : (
        <label>
          {words.whyIsSentAgain}
          <input value={reason} maxLength={500} onChange={(event) => setReason(event.target.value)} />
        </label>
      )}
      <div className={parts.keys}>
        <Button
          size="touch"
          disabled={!isZero && reason.trim() === ""}
          onClick={() => void device.decide(entry.order, { kind: "again", reason })}
        >
          {words.sendAgain}
        </Button>
        <Button size="touch" onClick={() => void device.decide(entry.order, { kind: "aside" })}>
          {words.putAside}
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
        {sent.held ? words.held : ""}
        {sent.batchHeld ? words.batchIsHeld(sent.batch) : ""}
      </p>
      {isDifferent(sent) ? <p>{words.devicesResultWas(deviceVerdict)}</p> : null}
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
      title={words.whatIsOnDevice}
      onClose={onClose}
      keys={
        <>
          <Button kind="go" size="touch" onClick={onClose}>
            {words.close}
          </Button>
          <Button size="touch" onClick={() => void device.send()}>
            {words.sendNow}
          </Button>
          <Button size="touch" onClick={() => void device.saveText().then((text) => saveFile(text, state.deviceId))}>
            {words.saveToFile}
          </Button>
          <label className={parts.file}>
            {words.loadFromFile}
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
          {words.youAreSignedOut}{" "}
          <ButtonLink href="/sign-in?next=/line" size="touch">
            {words.signIn}
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
        <ul className={styles.asideEntries} aria-label={words.putAside}>
          {aside.map((entry) => (
            <li key={entry.order}>
              <span>
                {words.isPutAside(
                  <b className="mono">
                    {isCheck(entry) ? words.zeroCheck(entry.check.gauge) : entry.inspection.serial}
                  </b>,
                )}
              </span>
              <Button size="touch" onClick={() => void device.decide(entry.order, { kind: "anew" })}>
                {words.decideAgain}
              </Button>
            </li>
          ))}
        </ul>
      ) : null}
      {toRead.length > 0 ? (
        <section aria-label={words.answersToRead}>
          <ul className={styles.refusals}>
            {toRead.map((sent) => (
              <SentAnswer key={sent.id} sent={sent} />
            ))}
          </ul>
          <Button size="touch" onClick={() => void device.markRead(toRead.map(({ id }) => id))}>
            {words.read}
          </Button>
        </section>
      ) : null}
      {isStorageShort(storage) ? (
        <p className={parts.refusal} role="alert">
          {words.storageOfDeviceIsNearly}
        </p>
      ) : null}
      <KeyValues
        pairs={[
          {
            label: words.waitingToBeSent,
            value: oldest
              ? words.oldest(
                  frames,
                  frames < waiting.length ? words.andZeroChecks(waiting.length - frames) : "",
                  formatDuration((now - oldest.queuedAt) / 1000),
                )
              : "none",
          },
          ...(state.photos.length > 0
            ? [
                {
                  label: words.photosToBeSent,
                  value: state.photos
                    .map(({ serial, refusal }) => (refusal === null ? serial : `${serial}: ${refusal}`))
                    .join(", "),
                },
              ]
            : []),
          {
            label: words.startedNotFinished,
            value: state.aside.length === 0 ? "none" : state.aside.map((session) => session.serial).join(", "),
          },
          {
            label: words.clockOfDevice,
            value:
              skew === null
                ? words.notComparedYet
                : words.sServerS(
                    formatFixed(Math.abs(skew.skewMs) / 1000, 1),
                    skew.skewMs < 0 ? words.behind : words.aheadOf,
                    formatFixed(skew.uncertaintyMs / 1000, 2),
                  ),
          },
          {
            label: words.storage,
            value: words.ofKeptForGood(
              inMegabytes(storage.usedBytes),
              inMegabytes(storage.quotaBytes),
              storage.persisted ? words.keptForGood : words.browserMayClearWhenSpace,
            ),
          },
          { label: words.device, value: state.deviceName ?? words.notNamedYet },
          { label: words.keyOfDevice, value: <span className="mono">{state.deviceId}</span> },
        ]}
      />
    </Dialog>
  );
}
