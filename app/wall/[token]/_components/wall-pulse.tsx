"use client";

import { useRouter } from "next/navigation";
import { useEffect, useState } from "react";
import { formatDuration, formatTimeOfDay } from "@/lib/format/date-text";
import { refreshIfAlive } from "../../../_components/refresh-if-alive";
import { WALL_WORDS as words } from "../../words";
import styles from "../wall.module.css";

/** How often the wall asks for what is new; it says that it lost the connection after so long without an answer. */
const ASK_MS = 5000;
const LOST_MS = 30_000;
const TICK_MS = 1000;

/** The clock, how old what stands on the wall is, and a large word where it is too old. */
export function WallPulse({ now, zone }: Readonly<{ now: string; zone: string }>) {
  const router = useRouter();
  // By this machine's clock: another one's may be wrong by more than a minute.
  const [heard, setHeard] = useState<{ now: string; atMs: number } | null>(null);
  const [nowMs, setNowMs] = useState<number | null>(null);
  if (nowMs !== null && heard?.now !== now) setHeard({ now, atMs: nowMs });

  useEffect(() => {
    const tick = setInterval(() => setNowMs(Date.now()), TICK_MS);
    const ask = setInterval(() => void refreshIfAlive(router.refresh), ASK_MS);
    return () => {
      clearInterval(tick);
      clearInterval(ask);
    };
  }, [router]);

  const ageMs = nowMs === null || heard === null ? 0 : nowMs - heard.atMs;
  const shownMs = Date.parse(now) + ageMs;
  const isLost = ageMs > LOST_MS;
  return (
    <>
      <span className={styles.heard}>{isLost ? null : words.heard(formatDuration(ageMs / 1000))}</span>
      <b className={styles.clock} suppressHydrationWarning>
        {formatTimeOfDay(shownMs, zone)}
      </b>
      <div role="alert" className={isLost ? styles.lost : undefined}>
        {isLost ? (
          <>
            <b>{words.lost(formatTimeOfDay(Date.parse(now), zone))}</b> <span>{words.lostHint}</span>
          </>
        ) : null}
      </div>
    </>
  );
}
