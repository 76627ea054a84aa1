"use client";

import { useCallback, useEffect, useState, useSyncExternalStore, type ReactNode } from "react";
import { loadLaterActs } from "@/lib/offline/later-acts";
import { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { startLine, type StartedLine } from "@/lib/offline/start-line";
import type { Seen } from "@/lib/offline/device/typed-ahead";
import { Button } from "@/lib/ui/button";
import { SignedInNow } from "@/lib/ui/signed-in";
import { ChooseFrame } from "./choose/choose-frame";
import { ChooseStation } from "./choose/choose-station";
import { FinishedFrame, KeyingScreen, loadLaterScreens, PendingStart, ZeroCheckScreen } from "./later-screens";
import { useFeedback } from "./parts/use-feedback";
import { typedAhead, useTypedAhead } from "./parts/use-typed-text";
import { FIRST_SCREEN_WORDS } from "../words/first-screen";
import styles from "./parts/screen.module.css";

const words = FIRST_SCREEN_WORDS.app;

type LineAppProps = Readonly<{ build: string | null; viewerName: string; rail: ReactNode }>;

/** Line: one screen at a time, from what this device keeps. */
export function LineApp({ build, viewerName, rail }: LineAppProps) {
  const [started, setStarted] = useState<StartedLine | null>(null);
  const [attempt, setAttempt] = useState(0);
  useEffect(() => {
    const stop = startLine({ build, steal: attempt > 0, onChange: setStarted });
    return stop;
  }, [build, attempt]);
  if (started === null) return <Waiting>{words.readingWhatDeviceKeeps}</Waiting>;
  if (started.kind === "elsewhere")
    return (
      <Waiting>
        <h1>{words.lineIsOpenInAnother}</h1>
        <p>{words.oneTabAtTimeKeeps}</p>
        <Button kind="go" size="touch" onClick={() => setAttempt(attempt + 1)}>
          {words.goOnHere}
        </Button>
      </Waiting>
    );
  if (started.kind === "failed")
    return (
      <Waiting>
        <h1>{words.deviceCannotKeepReadings}</h1>
        <p>{words.browserRefusesDatabase(started.why)}</p>
        <Button kind="go" size="touch" onClick={() => setAttempt(attempt + 1)}>
          {words.tryAgain}
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

/** A screen that is just being loaded: what is typed meanwhile is kept for it, and shown. */
function Loading({ title }: Readonly<{ title: string }>) {
  const typed = useSyncExternalStore(typedAhead.subscribe, typedAhead.text, typedAhead.text);
  return (
    <Waiting>
      <h1>{title}</h1>
      <p role="status">{typed === "" ? words.oneMoment : words.typedSoFar(typed)}</p>
    </Waiting>
  );
}

/** What the keys are meant for; null where they mean nothing. */
function seenOf({ settings, kit, zero, session, pending }: LineState): Seen | null {
  if (settings.stationId === null || kit === null || pending !== null) return null;
  if (zero !== null) return zero.failed === null ? `zero ${zero.gauge}` : null;
  return session === null || session.asked === null ? "scan" : "reading";
}

/** The rest of the program is loaded as soon as the first screen is painted, and lies on the device before it is needed. */
function loadTheRest(): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const frame = requestAnimationFrame(() => {
    // What fails here is asked for again when it is needed.
    timer = setTimeout(() => void Promise.all([loadLaterActs(), loadLaterScreens()]).catch(() => undefined));
  });
  return () => {
    cancelAnimationFrame(frame);
    clearTimeout(timer);
  };
}

function LineScreens({
  device,
  viewerName,
  rail,
  build,
}: Readonly<{ device: LineDevice; viewerName: string; rail: ReactNode; build: string | null }>) {
  const state = useSyncExternalStore(device.subscribe, device.getState, device.getState);
  const [moving, setMoving] = useState(false);
  useEffect(loadTheRest, []);
  useTypedAhead(
    moving ? null : seenOf(state),
    useCallback((text: string, seen: Seen) => void device.enter(text, seen), [device]),
  );
  useFeedback(state.feedback, state.settings.muted);
  const inspector = state.inspector?.name ?? state.kit?.viewer?.name ?? viewerName;
  const inHand = device.planInHand();
  // The page may have been kept while somebody else was signed in.
  const signedIn = state.network === "signed out" ? words.signedOut : (state.kit?.viewer?.name ?? null);
  const shownRail = <SignedInNow value={signedIn}>{rail}</SignedInNow>;
  if (state.settings.stationId === null || state.kit === null || moving)
    return (
      <>
        {shownRail}
        <ChooseStation device={device} state={state} onDone={() => setMoving(false)} />
      </>
    );
  return (
    <>
      {state.zero !== null ? (
        <ZeroCheckScreen
          device={device}
          state={state}
          zero={state.zero}
          inspector={inspector}
          waiting={<Loading title={words.zeroCheckOf(state.zero.gauge)} />}
        />
      ) : state.session !== null && inHand !== null ? (
        <KeyingScreen
          device={device}
          state={state}
          session={state.session}
          inHand={inHand}
          inspector={inspector}
          waiting={<Loading title={words.frame(state.session.serial)} />}
        />
      ) : state.finished !== null ? (
        <FinishedFrame
          device={device}
          state={state}
          finished={state.finished}
          inspector={inspector}
          waiting={<Loading title={words.judging(state.finished.inspection.serial)} />}
        />
      ) : (
        <>
          {shownRail}
          <ChooseFrame
            device={device}
            state={state}
            inspector={inspector}
            build={build}
            onMove={() => setMoving(true)}
          />
        </>
      )}
      {state.pending === null ? null : <PendingStart device={device} state={state} pending={state.pending} />}
    </>
  );
}
