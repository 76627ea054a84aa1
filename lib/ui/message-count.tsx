"use client";

import Link from "next/link";
import { useEffect, useState } from "react";
import { UI_WORDS } from "./words";
import styles from "./work-area-rail.module.css";

const words = UI_WORDS.messageCount;

const ASKED_EACH_MS = 30_000;
const COUNTED = /^\(\d+\) /;

/** What the server says now; null where it does not answer, as without the network. */
async function askWaiting(): Promise<number | null> {
  try {
    const answer = await fetch("/api/v1/messages/count", { cache: "no-store" });
    if (!answer.ok) return null;
    const { waiting } = (await answer.json()) as { waiting: unknown };
    return typeof waiting === "number" ? waiting : null;
  } catch {
    return null;
  }
}

/** Puts the count before the title of whatever page is shown, as "(3) Gate, Shellgate". */
function useTitleCount(waiting: number): void {
  useEffect(() => {
    const show = (): void => {
      const bare = document.title.replace(COUNTED, "");
      const wanted = waiting > 0 ? `(${waiting}) ${bare}` : bare;
      if (document.title !== wanted) document.title = wanted;
    };
    show();
    const observer = new MutationObserver(show);
    observer.observe(document.head, { childList: true, subtree: true, characterData: true });
    return () => observer.disconnect();
  }, [waiting]);
}

/**
 * How many messages wait for whoever is signed in: a quiet link on the rail and a number in the title, never anything that covers
 * work. Asked again while the page is looked at.
 *
 * @param initial - as the server counted; the place that renders it makes it anew where that changes
 */
export function MessageCount({ initial, isHere }: Readonly<{ initial: number; isHere: boolean }>) {
  const [waiting, setWaiting] = useState(initial);
  useTitleCount(waiting);
  useEffect(() => {
    const ask = async (): Promise<void> => {
      if (document.visibilityState === "hidden") return;
      const now = await askWaiting();
      if (now !== null) setWaiting(now);
    };
    const timer = setInterval(() => void ask(), ASKED_EACH_MS);
    const onSeen = (): void => void ask();
    document.addEventListener("visibilitychange", onSeen);
    return () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", onSeen);
    };
  }, []);
  return (
    <Link className={styles.messages} href="/messages" aria-current={isHere ? "page" : undefined}>
      {words.forMe}
      {waiting > 0 ? (
        <span className={styles.waiting}>
          {waiting}
          <span className="visuallyHidden"> {words.waiting}</span>
        </span>
      ) : null}
    </Link>
  );
}
