"use client";

import { useEffect, useRef, useState, type FormEvent } from "react";
import { formatTimeOfDay } from "@/lib/format/date-text";
import { shipReasonText } from "@/lib/format/ship-reasons";
import { uuidV7 } from "@/lib/schemas/identifier";
import { Button, ButtonLink } from "@/lib/ui/button";
import { DockAnswer } from "@/lib/ui/dock-answer";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { shipFrameAction } from "../../actions";
import { GATE_WORDS } from "../../words";
import styles from "../ship.module.css";
import { playAnswer } from "./dock-sound";
import { ScanField } from "./scan-field";

const words = GATE_WORDS.shipScan;

type Reason = Readonly<{ code: string; text: string; near?: readonly string[] }>;
type Answer = Readonly<{
  serial: string;
  answer: "go" | "stop" | "again";
  batch: string | null;
  reasons: readonly Reason[];
  at: string;
}>;

function shownReason(text: string) {
  const { title, details } = shipReasonText(text);
  return { title, ...(details.length === 0 ? {} : { detail: details.map((one) => <span key={one}>{one}</span>) }) };
}

type Pending = Readonly<{ id: string; serial: string }>;
type Failed = Pending & Readonly<{ text: string }>;

type ShipScanProps = Readonly<{ place: string; zone: string; counts: { shipped: number; refused: number } }>;

/** Answers before the one that stands: who scans on has not always read them. */
const MOST_BEFORE = 4;

const NEXT = { go: words.loadedScanNext, stop: words.inHoldBayScanNext, again: words.scanAgain } as const;

/**
 * The dock's one question, scan after scan: what is scanned while an answer stands or is awaited is the next question. A scan that got
 * no answer keeps its key, so that trying again cannot ship twice.
 */
export function ShipScan({ place, zone, counts }: ShipScanProps) {
  const [answers, setAnswers] = useState<readonly Answer[]>([]);
  const [isShown, setIsShown] = useState(false);
  const [failed, setFailed] = useState<readonly Failed[]>([]);
  const [stopped, setStopped] = useState(counts.refused);
  const [shipped, setShipped] = useState(counts.shipped);
  const [waiting, setWaiting] = useState(0);
  const [hasSound, setHasSound] = useState(true);
  const [text, setText] = useState("");
  const last = useRef<Promise<void>>(Promise.resolve());
  const sound = useRef(true);
  const field = useRef<HTMLInputElement>(null);

  useEffect(() => {
    // A scanner types wherever the focus is: a press on a key must not lose the next scan.
    const toField = (event: KeyboardEvent): void => {
      const isTyped = event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey;
      if (isTyped && document.activeElement !== field.current) field.current?.focus();
    };
    document.addEventListener("keydown", toField);
    return () => document.removeEventListener("keydown", toField);
  }, []);

  const answered = (answer: Answer): void => {
    setAnswers((before) => [answer, ...before].slice(0, MOST_BEFORE + 1));
    setIsShown(true);
    if (answer.answer === "go") setShipped((count) => count + 1);
    if (answer.answer === "stop") setStopped((count) => count + 1);
    if (sound.current) playAnswer(answer.answer);
    navigator.vibrate?.(answer.answer === "go" ? 60 : [200, 80, 200]);
  };

  const askOne = async (pending: Pending): Promise<void> => {
    const fail = (why: string): void => {
      setFailed((others) => [...others, { ...pending, text: why }]);
      if (sound.current) playAnswer("again");
    };
    try {
      if (!navigator.onLine) return fail(words.noNetwork);
      const result = await shipFrameAction(pending);
      if (!result.ok) return fail(result.error.message);
      const isAgain = result.data.reasons.some((reason) => reason.near !== undefined);
      const refused = isAgain ? "again" : "stop";
      answered({ ...result.data, answer: result.data.answer === "shipped" ? "go" : refused });
    } catch {
      fail(words.serverDidNotAnswer);
    }
  };

  const ask = (pending: Pending): void => {
    setFailed((others) => others.filter(({ id }) => id !== pending.id));
    setWaiting((count) => count + 1);
    last.current = last.current.then(() => askOne(pending)).finally(() => setWaiting((count) => count - 1));
  };

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const serial = text.trim();
    setText("");
    if (serial === "") setIsShown(false);
    else ask({ id: uuidV7(), serial });
  };

  const handleSound = (): void => {
    sound.current = !sound.current;
    setHasSound(sound.current);
    field.current?.focus();
  };

  const [answer, ...before] = answers;
  const waits = waiting > 0 ? <p role="status">{words.waitForAnswer(waiting)}</p> : null;
  const notices = failed.map((one) => (
    <ErrorNotice
      key={one.id}
      title={words.noAnswerFor(one.serial)}
      keys={
        <Button size="touch" onClick={() => ask({ id: one.id, serial: one.serial })}>
          {words.askAgain}
        </Button>
      }
    >
      <p>{one.text}</p>
    </ErrorNotice>
  ));
  const soundKey = (
    <Button kind="quiet" aria-pressed={hasSound} onClick={handleSound}>
      {hasSound ? words.soundOn : words.soundOff}
    </Button>
  );
  const tally = words.shippedStoppedToday(shipped, stopped);

  if (answer && isShown)
    return (
      <DockAnswer
        answer={answer.answer}
        serial={answer.serial}
        what={answer.batch === null ? undefined : words.batch(answer.batch)}
        place={place}
        reasons={
          answer.reasons.length > 0
            ? answer.reasons.map((reason) => shownReason(reason.text))
            : [{ title: words.readingsConformAndBatch }]
        }
        answered={formatTimeOfDay(answer.at, zone, true)}
        tally={tally}
        next={
          <>
            {notices}
            <form className={styles.again} onSubmit={handleSubmit}>
              <ScanField ref={field} label={words.scanNextFrame} text={text} onText={setText} />
              <Button type="submit" size="large" wide keyHint="Enter">
                {text.trim() === "" ? NEXT[answer.answer] : words.ask}
              </Button>
            </form>
            {waits}
            {before.length > 0 ? (
              <p className={styles.before}>
                <span>{words.before}</span>
                {before.map((one) => (
                  <span key={`${one.serial} ${one.at}`}>
                    <b className="mono">{one.serial}</b> {words[one.answer]}
                  </span>
                ))}
              </p>
            ) : null}
          </>
        }
      />
    );

  return (
    <main id="main" className={styles.scan}>
      <header className={styles.head}>
        <b>{words.shipScan}</b>
        <span>{place}</span>
      </header>
      <h1>{words.mayFrameShip}</h1>
      <form onSubmit={handleSubmit}>
        <ScanField ref={field} label={words.serial} text={text} onText={setText} />
        <Button type="submit" kind="go" size="large" wide keyHint="Enter">
          {words.ask}
        </Button>
      </form>
      {waits}
      {notices}
      <p className={styles.foot}>
        <span>{tally}</span>
        {soundKey}
        <ButtonLink href="/gate" kind="quiet">
          {words.backToGate}
        </ButtonLink>
      </p>
    </main>
  );
}
