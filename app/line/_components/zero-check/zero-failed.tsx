"use client";

import { useEffect, useRef, useState } from "react";
import { formatMoment } from "@/lib/format/date-text";
import { formatFixed } from "@/lib/format/number-text";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { gaugesAtHand } from "@/lib/offline/device/station-gauges";
import type { DeviceZeroCheck } from "@/lib/offline/device/zero-check";
import { Button } from "@/lib/ui/button";
import { SectionHeading } from "@/lib/ui/page-frame";
import { VerdictBanner } from "@/lib/ui/verdict-banner";
import { ZERO_CHECK_WORDS } from "../../words/zero-check";
import parts from "../parts/parts.module.css";
import styles from "./zero-check.module.css";

const words = ZERO_CHECK_WORDS.failed;

type ZeroFailedProps = Readonly<{
  device: LineDevice;
  state: LineState;
  failed: DeviceZeroCheck;
  /** Serial of the frame that waits behind the check. */
  waits: string | null;
}>;

/** Serials named in one sentence; the record has them all. */
const NAMED = 6;

function Serials({ serials }: Readonly<{ serials: readonly string[] }>) {
  return (
    <>
      {serials.slice(-NAMED).map((serial, at) => (
        <span key={serial}>
          {at === 0 ? "" : ", "}
          <span className="nowrap">{serial}</span>
        </span>
      ))}
      {serials.length > NAMED ? words.andMoreFrames(serials.length - NAMED) : ""}
    </>
  );
}

/**
 * What is typed or scanned where a decision is asked for: an Enter at its end must not press a key of the screen.
 *
 * @returns the last text that was not taken; empty when there was none
 */
function useRefusedKeys(): string {
  const [refused, setRefused] = useState("");
  useEffect(() => {
    let typed = "";
    const refuse = (event: KeyboardEvent): void => {
      const elsewhere = event.target instanceof Element && event.target.closest("input, dialog") !== null;
      if (elsewhere || event.isComposing || event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key.length === 1 && (event.key !== " " || typed !== "")) typed += event.key;
      else if (typed !== "" && (event.key === "Enter" || event.key === "Tab")) {
        setRefused(typed);
        typed = "";
      } else return;
      event.preventDefault();
    };
    document.addEventListener("keydown", refuse, true);
    return () => document.removeEventListener("keydown", refuse, true);
  }, []);
  return refused;
}

/** What a failed zero check means: for the gauge, for what it measured since the last good one, for the next frame. */
export function ZeroFailed({ device, state, failed, waits }: ZeroFailedProps) {
  const { kit, settings, session } = state;
  const refused = useRefusedKeys();
  const todo = useRef<HTMLElement>(null);
  // Not on a key: the second Enter of a hasty hand must not wave the finding through.
  useEffect(() => todo.current?.focus({ preventScroll: true }), []);
  const { gauge, ring, driftUm, limitUm, since, serials } = failed;
  const { decimal } = settings;
  const kind = kit?.gauges.find((one) => one.key === gauge)?.kind;
  const next = kit?.gauges.find((one) => kind !== undefined && one.key === gaugesAtHand(kit, settings)[kind]);
  const other = next !== undefined && next.key !== gauge && next.zeroFailed !== true ? next.key : null;
  const answer = state.sentChecks.find(({ check }) => check.id === failed.id)?.answer ?? null;
  const off = words.umToo(formatFixed(Math.abs(driftUm), 1, decimal), driftUm > 0 ? words.large : words.small);
  const limit = `±${formatFixed(limitUm, Number.isInteger(limitUm) ? 0 : 1, decimal)}\u00a0µm`;
  const from = answer?.since ?? since;
  const stretch =
    from === null
      ? words.everythingEverMeasured(gauge)
      : words.whatMeasuredSinceLastGood(gauge, formatMoment(from, { zone: kit?.zone ?? "UTC" }));
  const onward = session !== null ? words.goOnWith(session.serial) : waits === null ? words.goOn : words.start(waits);
  return (
    <>
      <VerdictBanner state="stop" word={words.zeroCheckFailed} finding={words.showsLimit(gauge, ring, off, limit)} />
      <div className={styles.failed}>
        <section>
          <SectionHeading>{words.whatHappensToReadings}</SectionHeading>
          <ul className={styles.consequences}>
            <li>{stretch}.</li>
            <li>
              {serials.length === 0 ? (
                words.deviceMeasuredNoFrame
              ) : (
                <>
                  {words.deviceMeasuredWithSince(serials.length)} <Serials serials={serials} />.
                </>
              )}{" "}
              {session !== null && serials.includes(session.serial) ? words.frameIsInHand(session.serial, gauge) : ""}
            </li>
            <li>
              <span role="status">
                {answer === null
                  ? words.serverHoldsThemAsSoon
                  : words.serverHasCheck(
                      answer.frames,
                      answer.held,
                      answer.shipped,
                      answer.escapes > 0 ? words.opened(answer.escapes) : "",
                      answer.batchesHeld.length > 0 ? words.heldBatch(answer.batchesHeld.join(", ")) : "",
                    )}
              </span>
            </li>
            <li>{words.toFreeThem}</li>
          </ul>
        </section>
        <section ref={todo} tabIndex={-1}>
          <SectionHeading>{words.whatToDoNow}</SectionHeading>
          <div className={parts.step}>
            <h2>{other === null ? words.cleanIt : words.takeInstead(other)}</h2>
            <p>{other === null ? words.isNoOtherGauge(gauge) : words.isOffStationsOffer(gauge)}</p>
          </div>
          <div className={parts.keys}>
            {other === null ? null : (
              <Button kind="go" size="touch" onClick={() => void device.leaveZero()}>
                {words.withOther(onward, other)}
              </Button>
            )}
            <Button kind={other === null ? "go" : "plain"} size="touch" onClick={() => void device.checkZeroAgain()}>
              {words.checkAgain(gauge)}
            </Button>
            {other === null ? (
              <Button size="touch" onClick={() => void device.leaveZero()}>
                {onward}
              </Button>
            ) : null}
          </div>
          {refused === "" ? null : (
            <p className={parts.refusal} role="alert">
              {words.isNotTakenHere(refused)}
            </p>
          )}
        </section>
      </div>
    </>
  );
}
