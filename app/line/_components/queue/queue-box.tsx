"use client";

import { useEffect, useMemo, useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { isToBeRead } from "@/lib/offline/device/device-database";
import { isStorageShort, type LineState } from "@/lib/offline/device/line-state";
import { formatDuration, formatTimeOfDay } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { QueueDialog } from "./later-dialogs";
import styles from "./queue.module.css";

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
  const kept = readings === 0 ? "nothing to send" : `${formatCounted(readings, "reading")} saved on this tablet`;
  if (refused > 0)
    return {
      tone: "error",
      mark: "stop",
      title: `${formatCounted(refused, "entry", "entries")} to decide`,
      detail: "refused by the server, saved on this tablet",
    };
  const { usedBytes, quotaBytes } = state.storage;
  if (isStorageShort(state.storage))
    return {
      tone: "error",
      mark: "stop",
      title: "storage is nearly full",
      detail: `${formatFixed((usedBytes ?? 0) / 1e6, 0)} of ${formatFixed((quotaBytes ?? 0) / 1e6, 0)} MB: free some`,
    };
  const answers = state.sent.filter(isToBeRead).length;
  if (answers > 0 && state.network === "there")
    return {
      tone: "caution",
      mark: "not proven",
      title: `${formatCounted(answers, "answer")} to read`,
      detail: "the server has more to say",
    };
  if (state.network === "signed out")
    return {
      tone: "caution",
      mark: "on device",
      title: kept,
      detail: "signed out: sign in to send",
    };
  if (state.network === "away")
    return {
      tone: "caution",
      mark: "on device",
      title: kept,
      detail: `no network for ${age(state.awaySince, now)}, sent when it is back`,
    };
  if (oldest !== undefined)
    return {
      tone: "calm",
      mark: "on device",
      title: waiting.length > 0 ? `sending ${formatCounted(waiting.length, "frame")}` : "sending the zero check",
      detail: `oldest ${age(oldest.queuedAt, now)} old`,
    };
  const aside = entries.filter((entry) => entry.state === "aside").length;
  const last = state.sent[0];
  return {
    tone: "calm",
    mark: aside > 0 ? "on device" : "go",
    title:
      keyed > 0
        ? `${formatCounted(keyed, "reading")} saved on this tablet`
        : aside > 0
          ? `${formatCounted(aside, "entry", "entries")} put aside`
          : "all readings sent",
    detail:
      aside > 0 && keyed === 0
        ? "the others are sent"
        : last
          ? `last frame sent ${formatTimeOfDay(last.sentAt, state.zone)}`
          : "nothing to send on this device",
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
