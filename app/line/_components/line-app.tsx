"use client";

import { lazy, Suspense, useEffect, useState, useSyncExternalStore, type ReactNode } from "react";
import { LineDevice } from "@/lib/offline/line-device";
import { startLine, type StartedLine } from "@/lib/offline/start-line";
import { Button } from "@/lib/ui/button";
import { ChooseFrame } from "./choose-frame";
import { ChooseStation } from "./choose-station";
import { KeyingScreen } from "./keying-screen";
import { PendingStart } from "./pending-start";
import { useFeedback } from "./use-feedback";
import styles from "./line.module.css";

const loadFinished = () => import("./finished-frame");
const loadZeroCheck = () => import("./zero-check-screen");
const ZeroCheckScreen = lazy(async () => ({ default: (await loadZeroCheck()).ZeroCheckScreen }));
const FinishedFrame = lazy(async () => ({ default: (await loadFinished()).FinishedFrame }));

type LineAppProps = Readonly<{ build: string | null; viewerName: string; rail: ReactNode }>;

/** Line: one screen at a time, from what this device keeps. */
export function LineApp({ build, viewerName, rail }: LineAppProps) {
  const [started, setStarted] = useState<StartedLine | null>(null);
  const [attempt, setAttempt] = useState(0);
  useEffect(() => {
    const stop = startLine({ build, steal: attempt > 0, onChange: setStarted });
    return stop;
  }, [build, attempt]);
  if (started === null) return <Waiting>Reading what this device keeps …</Waiting>;
  if (started.kind === "elsewhere")
    return (
      <Waiting>
        <h1>Line is open in another tab of this device</h1>
        <p>One tab at a time keeps readings, so that none is kept twice. What was keyed there is on this device.</p>
        <Button kind="go" size="touch" onClick={() => setAttempt(attempt + 1)}>
          Go on here
        </Button>
      </Waiting>
    );
  if (started.kind === "failed")
    return (
      <Waiting>
        <h1>This device cannot keep readings</h1>
        <p>
          The browser refuses its database ({started.why}). Line keeps every reading on the device before it counts, so
          nothing can be measured here: leave private browsing, free some storage, or use another device.
        </p>
        <Button kind="go" size="touch" onClick={() => setAttempt(attempt + 1)}>
          Try again
        </Button>
      </Waiting>
    );
  return <LineScreens device={started.device} viewerName={viewerName} rail={rail} build={build} />;
}

function Waiting({ children }: Readonly<{ children: ReactNode }>) {
  return (
    <main id="main" className={styles.waiting}>
      {children}
    </main>
  );
}

function LineScreens({
  device,
  viewerName,
  rail,
  build,
}: Readonly<{ device: LineDevice; viewerName: string; rail: ReactNode; build: string | null }>) {
  const state = useSyncExternalStore(device.subscribe, device.getState, device.getState);
  // The verdict's screen and its estimates are on the device before the first verdict.
  useEffect(() => {
    const timer = setTimeout(() => {
      void loadFinished().then(({ loadMeanings }) => loadMeanings());
      void loadZeroCheck();
    }, 1500);
    return () => clearTimeout(timer);
  }, []);
  useFeedback(state.feedback, state.settings.muted);
  const inspector = state.inspector?.name ?? state.kit?.viewer?.name ?? viewerName;
  const inHand = device.planInHand();
  if (state.settings.stationId === null || state.kit === null)
    return (
      <>
        {rail}
        <ChooseStation device={device} state={state} />
      </>
    );
  return (
    <>
      {state.zero !== null ? (
        <Suspense fallback={<Waiting>Fetching the setting ring …</Waiting>}>
          <ZeroCheckScreen device={device} state={state} zero={state.zero} inspector={inspector} />
        </Suspense>
      ) : state.session !== null && inHand !== null ? (
        <KeyingScreen device={device} state={state} session={state.session} inHand={inHand} inspector={inspector} />
      ) : state.finished !== null ? (
        <Suspense fallback={<Waiting>Judging …</Waiting>}>
          <FinishedFrame device={device} state={state} finished={state.finished} inspector={inspector} />
        </Suspense>
      ) : (
        <>
          {rail}
          <ChooseFrame device={device} state={state} inspector={inspector} build={build} />
        </>
      )}
      {state.pending === null ? null : <PendingStart device={device} state={state} pending={state.pending} />}
    </>
  );
}
