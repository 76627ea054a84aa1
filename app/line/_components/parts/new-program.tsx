"use client";

import { useEffect, useState } from "react";
import { loadNewProgram, startNewProgram } from "@/lib/offline/keep-program";
import type { LineState } from "@/lib/offline/device/line-state";
import { Button } from "@/lib/ui/button";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./new-program.module.css";

const words = FIRST_SCREEN_WORDS.newProgram;

/** A newer program than the one on this device: loaded beside it, used when the inspector says so. */
export function NewProgram({ state }: Readonly<{ state: LineState }>) {
  const [ready, setReady] = useState(false);
  const { newBuild } = state;
  useEffect(() => {
    let stopped = false;
    if (newBuild !== null && "serviceWorker" in navigator)
      void loadNewProgram(newBuild).then((loaded) => {
        if (!stopped) setReady(loaded);
      });
    return () => {
      stopped = true;
    };
  }, [newBuild]);
  if (newBuild === null || !ready) return null;
  return (
    <p className={styles.newProgram}>
      <span>{words.newerVersionOfLine}</span>
      <Button size="touch" onClick={() => void startNewProgram()}>
        {words.useNow}
      </Button>
    </p>
  );
}
