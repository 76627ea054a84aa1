"use client";

import { useEffect, useState } from "react";
import { loadNewProgram, startNewProgram } from "@/lib/offline/keep-program";
import type { LineState } from "@/lib/offline/device/line-state";
import { Button } from "@/lib/ui/button";
import styles from "./new-program.module.css";

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
      <span>A newer version of Line is on this device. Changing over keeps every reading.</span>
      <Button size="touch" onClick={() => void startNewProgram()}>
        Use it now
      </Button>
    </p>
  );
}
