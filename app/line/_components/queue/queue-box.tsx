"use client";

import { useEffect, useMemo, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { isToBeRead } from "@/lib/offline/device/device-database";
import { isStorageShort, type LineState } from "@/lib/offline/device/line-state";
import { formatDuration, formatTimeOfDay } from "@/lib/format/date-text";
import { formatFixed } from "@/lib/format/number-text";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { QueueDialog } from "./later-dialogs";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./queue.module.css";

const texts = FIRST_SCREEN_WORDS.queueBox;

type QueueBoxProps = Readonly<{ device: LineDevice; state: LineState }>;

const TICK_MS = 10_000;

/** Now, to the ten seconds: ages on the screen go by it. */
export function useNow(): number {
  const [now, setNow] = useState(() => Date.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(Date.now()), TICK_MS);
    return () => clearInterval(timer);
  }, []);
  return now;
}

type Words = { readonly tone: "calm" | "caution" | "error"; mark: MarkedState; title: string; detail: string };

function age(from: number | null | undefined, now: number): string {
  return from === null || from === undefined ? "" : formatDuration(Math.max(0, (now - from) / 1000));
}

type Told = Pick<LineState, "queue" | "checks" | "sent" | "network" | "awaySince" | "storage"> & {
  readonly zone: string;
};

/** What the box says of queue and network, with so many readings of the frame in hand: trouble first. */
function words(state: Told, keyed: number, now: number): Words {
  const entries = [...state.queue, ...state.checks].sort((a, b) => a.order - b.order);
  const refused = entries.filter((entry) => entry.state === "refused").length;
  const waiting = state.queue.filter((entry) => entry.state === "waiting");
  const oldest = entries.find((entry) => entry.state === "waiting");
  const readings = waiting.reduce((sum, { inspection }) => sum + inspection.readings.length, 0) + keyed;
  const kept = readings === 0 ? texts.nothingToSend : texts.savedOnTablet(readings);
  if (refused > 0)
    return {
      tone: "error",
      mark: "stop",
      title: texts.toDecide(refused),
      detail: texts.refusedByServer,
    };
  const { usedBytes, quotaBytes } = state.storage;
  if (isStorageShort(state.storage))
    return {
      tone: "error",
      mark: "stop",
      title: texts.storageIsNearlyFull,
      detail: texts.ofMbFreeSome(formatFixed((usedBytes ?? 0) / 1e6, 0), formatFixed((quotaBytes ?? 0) / 1e6, 0)),
    };
  const answers = state.sent.filter(isToBeRead).length;
  if (answers > 0 && state.network === "there")
    return {
      tone: "caution",
      mark: "not proven",
      title: texts.toRead(answers),
      detail: texts.serverHasMoreToSay,
    };
  if (state.network === "signed out")
    return {
      tone: "caution",
      mark: "on device",
      title: kept,
      detail: texts.signedOut,
    };
  if (state.network === "away")
    return {
      tone: "caution",
      mark: "on device",
      title: kept,
      detail: texts.noNetworkFor(age(state.awaySince, now)),
    };
  if (oldest !== undefined)
    return {
      tone: "calm",
      mark: "on device",
      title: waiting.length > 0 ? texts.sending(waiting.length) : texts.sendingZeroCheck,
      detail: texts.oldestOld(age(oldest.queuedAt, now)),
    };
  const aside = entries.filter((entry) => entry.state === "aside").length;
  const last = state.sent[0];
  return {
    tone: "calm",
    mark: aside > 0 ? "on device" : "go",
    title: keyed > 0 ? texts.savedOnTablet(keyed) : aside > 0 ? texts.putAside(aside) : texts.allReadingsSent,
    detail:
      aside > 0 && keyed === 0
        ? texts.othersAreSent
        : last
          ? texts.lastFrameSent(formatTimeOfDay(last.sentAt, state.zone))
          : texts.nothingToSendOnDevice,
  };
}

/** What waits on this device and since when; opens the queue. */
export function QueueBox({ device, state }: QueueBoxProps) {
  const [open, setOpen] = useState(false);
  const now = useNow();
  const { queue, checks, sent, network, awaySince, storage } = state;
  const keyed = (state.keptSession ?? state.session)?.readings.filter((reading) => reading !== null).length ?? 0;
  const zone = state.kit?.zone ?? "UTC";
  const { tone, mark, title, detail } = useMemo(
    () => words({ queue, checks, sent, network, awaySince, storage, zone }, keyed, now),
    [queue, checks, sent, network, awaySince, storage, zone, keyed, now],
  );
  return (
    <>
      <button type="button" className={`${styles.queue} ${styles[tone]}`} onClick={() => setOpen(true)}>
        <StateMark state={mark} size="m" wordBeside />
        <span role="status">
          <b>{title}</b>
          <small>{detail}</small>
        </span>
      </button>
      {open ? <QueueDialog device={device} state={state} onClose={() => setOpen(false)} now={now} /> : null}
    </>
  );
}
