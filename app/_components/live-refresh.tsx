"use client";

import { useRouter } from "next/navigation";
import { useEffect, useRef, useState } from "react";
import { formatTimeOfDay } from "@/lib/format/date-text";
import { refreshIfAlive } from "./refresh-if-alive";
import { APP_WORDS } from "./words";
import styles from "./live-refresh.module.css";

const words = APP_WORDS.live;

/** Changes that come closer together than this are fetched once. */
const GATHER_MS = 150;
/** A connection that could not be made again within this time is called lost. */
const LOST_MS = 4000;

type LiveRefreshProps = Readonly<{
  /** The line shown; without it every line counts. */
  lineId?: string;
  /** Time zone of the plant, for "not live since". */
  zone: string;
  /** Fetched again after so many ms at the latest: where ages are shown, and what nobody tells of. */
  everyMs?: number;
}>;

/** Keeps a page as new as the plant: fetches it again when something was measured, and says whether it is live. */
export function LiveRefresh({ lineId, zone, everyMs }: LiveRefreshProps) {
  const router = useRouter();
  const [lostAt, setLostAt] = useState<number | null>(null);
  const [live, setLive] = useState(false);
  const first = useRef(true);

  useEffect(() => {
    let gather: ReturnType<typeof setTimeout> | null = null;
    let lost: ReturnType<typeof setTimeout> | null = null;
    let again: ReturnType<typeof setTimeout> | null = null;
    let source: EventSource | null = null;
    let ended = false;
    const refresh = () => {
      gather ??= setTimeout(() => {
        gather = null;
        router.refresh();
      }, GATHER_MS);
    };
    const open = () => {
      if (ended) return;
      source = new EventSource("/api/v1/live");
      source.addEventListener("changed", (event) => {
        if (lost) clearTimeout(lost);
        lost = null;
        setLive(true);
        setLostAt(null);
        const { lines } = JSON.parse(String((event as MessageEvent).data)) as { lines: string[] };
        const all = lines.includes("*");
        // The first word of the first connection says nothing new: the page has just been made.
        if (all && first.current) first.current = false;
        else if (all || lineId === undefined || lines.includes(lineId)) refresh();
      });
      source.addEventListener("error", () => {
        const since = Date.now();
        lost ??= setTimeout(() => {
          setLive(false);
          setLostAt((known) => known ?? since);
        }, LOST_MS);
        // The browser gives up for good after an answer that is no stream, as while the server starts again.
        if (source?.readyState === EventSource.CLOSED) again = setTimeout(open, 2000);
      });
    };
    open();
    const regularly = everyMs === undefined ? null : setInterval(() => void refreshIfAlive(refresh), everyMs);
    return () => {
      ended = true;
      if (regularly) clearInterval(regularly);
      source?.close();
      for (const timer of [gather, lost, again]) if (timer) clearTimeout(timer);
    };
  }, [router, lineId, everyMs]);

  if (lostAt !== null) {
    const time = formatTimeOfDay(lostAt, zone);
    return (
      <span className={`${styles.live} maybeText`} role="status">
        <i className={styles.lostDot} aria-hidden="true" />
        {words.notLive(time)}
      </span>
    );
  }
  return (
    <span className={styles.live} role="status">
      <i className={live ? styles.liveDot : styles.waitDot} aria-hidden="true" />
      {live ? words.live : words.connecting}
    </span>
  );
}
