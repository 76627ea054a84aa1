"use client";

import { useRef, useState, useTransition, type FormEvent } from "react";
import { formatTimeOfDay } from "@/lib/format/date-text";
import { shipReasonText } from "@/lib/format/ship-reasons";
import { uuidV7 } from "@/lib/schemas/identifier";
import { Button, ButtonLink } from "@/lib/ui/button";
import { DockAnswer } from "@/lib/ui/dock-answer";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { shipFrameAction } from "../../actions";
import { GATE_WORDS } from "../../words";
import styles from "../ship.module.css";

const words = GATE_WORDS.shipScan;

type Answer = Readonly<{
  serial: string;
  answer: "go" | "stop";
  batch: string | null;
  reasons: readonly { code: string; text: string }[];
  at: string;
}>;

function shownReason(text: string) {
  const { title, details } = shipReasonText(text);
  return { title, ...(details.length === 0 ? {} : { detail: details.map((one) => <span key={one}>{one}</span>) }) };
}

type Pending = Readonly<{ id: string; serial: string }>;

type ShipScanProps = Readonly<{ place: string; zone: string; counts: { shipped: number; refused: number } }>;

/** The dock's one question. A scan that got no answer keeps its key, so that trying again cannot ship twice. */
export function ShipScan({ place, zone, counts }: ShipScanProps) {
  const [answer, setAnswer] = useState<Answer | null>(null);
  const [failed, setFailed] = useState<{ pending: Pending; text: string } | null>(null);
  const [stopped, setStopped] = useState(counts.refused);
  const [shipped, setShipped] = useState(counts.shipped);
  const [isPending, startTransition] = useTransition();
  const field = useRef<HTMLInputElement>(null);

  const ask = (pending: Pending): void => {
    setFailed(null);
    startTransition(async () => {
      try {
        const result = await shipFrameAction(pending);
        if (!result.ok) {
          setFailed({ pending, text: result.error.message });
          return;
        }
        const go = result.data.answer === "shipped";
        setAnswer({ ...result.data, answer: go ? "go" : "stop" });
        if (go) setShipped((count) => count + 1);
        else setStopped((count) => count + 1);
        navigator.vibrate?.(go ? 60 : [200, 80, 200]);
      } catch {
        setFailed({ pending, text: words.serverDidNotAnswer });
      }
    });
  };

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const serial = String(new FormData(event.currentTarget).get("serial") ?? "").trim();
    if (serial !== "") ask({ id: uuidV7(), serial });
    event.currentTarget.reset();
  };

  if (answer)
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
        tally={words.shippedStoppedToday(shipped, stopped)}
        next={
          <Button
            size="large"
            wide
            autoFocus
            keyHint="Enter"
            onClick={() => {
              setAnswer(null);
              field.current?.focus();
            }}
          >
            {answer.answer === "go" ? words.loadedScanNext : words.inHoldBayScanNext}
          </Button>
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
        <label className={styles.field}>
          <span>{words.serial}</span>
          <input
            ref={field}
            name="serial"
            className="mono"
            autoFocus
            autoComplete="off"
            autoCapitalize="characters"
            spellCheck={false}
            maxLength={64}
            disabled={isPending}
          />
        </label>
        <Button type="submit" kind="go" size="large" wide keyHint="Enter" disabled={isPending}>
          {isPending ? words.asking : words.ask}
        </Button>
      </form>
      {failed ? (
        <ErrorNotice
          title={words.noAnswerFor(failed.pending.serial)}
          keys={
            <Button kind="go" size="touch" onClick={() => ask(failed.pending)}>
              {words.askAgain}
            </Button>
          }
        >
          <p>{failed.text}</p>
        </ErrorNotice>
      ) : null}
      <p className={styles.foot}>
        <span>{words.shippedStoppedToday(shipped, stopped)}</span>
        <ButtonLink href="/gate" kind="quiet">
          {words.backToGate}
        </ButtonLink>
      </p>
    </main>
  );
}
