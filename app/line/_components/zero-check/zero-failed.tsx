"use client";

import { useEffect, useRef, useState } from "react";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import type { LineDevice } from "@/lib/offline/line-device";
import type { LineState } from "@/lib/offline/device/line-state";
import { gaugesAtHand } from "@/lib/offline/device/station-gauges";
import type { DeviceZeroCheck } from "@/lib/offline/device/zero-check";
import { Button } from "@/lib/ui/button";
import { SectionHeading } from "@/lib/ui/page-frame";
import { VerdictBanner } from "@/lib/ui/verdict-banner";
import parts from "../parts/parts.module.css";
import styles from "./zero-check.module.css";

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
      {serials.length > NAMED ? ` and ${formatCounted(serials.length - NAMED, "more frame")}` : ""}
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
  const off = `${formatFixed(Math.abs(driftUm), 1, decimal)}\u00a0µm too ${driftUm > 0 ? "large" : "small"}`;
  const limit = `±${formatFixed(limitUm, Number.isInteger(limitUm) ? 0 : 1, decimal)}\u00a0µm`;
  const from = answer?.since ?? since;
  const stretch =
    from === null
      ? `Everything that ${gauge} ever measured is not proven: it has no good zero check`
      : `What ${gauge} measured since its last good zero check, ${formatMoment(from, { zone: kit?.zone ?? "UTC" })}, is not proven`;
  const onward = session !== null ? `Go on with ${session.serial}` : waits === null ? "Go on" : `Start ${waits}`;
  return (
    <>
      <VerdictBanner state="stop" word="zero check failed" finding={`${gauge} shows ${ring} ${off}, limit ${limit}`} />
      <div className={styles.failed}>
        <section>
          <SectionHeading>What happens to the readings</SectionHeading>
          <ul className={styles.consequences}>
            <li>{stretch}.</li>
            <li>
              {serials.length === 0 ? (
                "This device measured no frame with it since."
              ) : (
                <>
                  This device measured {formatCounted(serials.length, "frame")} with it since:{" "}
                  <Serials serials={serials} />.
                </>
              )}{" "}
              {session !== null && serials.includes(session.serial)
                ? `Frame ${session.serial} is in hand: its readings by ${gauge} stay not proven. Measure it again afterwards.`
                : ""}
            </li>
            <li>
              <span role="status">
                {answer === null
                  ? "The server holds them as soon as it has this check; it waits on this device."
                  : `The server has this check. Frames that rest on the gauge: ${answer.frames}, held by it now: ${answer.held}, shipped: ${answer.shipped}${answer.escapes > 0 ? ` (${formatCounted(answer.escapes, "escape")} opened)` : ""}.${answer.batchesHeld.length > 0 ? ` Held: batch ${answer.batchesHeld.join(", ")}.` : ""}`}
              </span>
            </li>
            <li>
              To free them, measure them again with a gauge in order and have the doubtful inspections withdrawn; a good
              check from before frees what lies before it.
            </li>
          </ul>
        </section>
        <section ref={todo} tabIndex={-1}>
          <SectionHeading>What to do now</SectionHeading>
          <div className={parts.step}>
            <h2>{other === null ? "Clean it, set it in its ring, check it again" : `Take ${other} instead`}</h2>
            <p>
              {other === null
                ? `There is no other gauge in order of its kind at this station. Until a good check, readings of ${gauge} prove nothing.`
                : `${gauge} is off this station’s offer until a good check. Put it aside and call the engineer.`}
            </p>
          </div>
          <div className={parts.keys}>
            {other === null ? null : (
              <Button kind="go" size="touch" onClick={() => void device.leaveZero()}>
                {onward}, with {other}
              </Button>
            )}
            <Button kind={other === null ? "go" : "plain"} size="touch" onClick={() => void device.checkZeroAgain()}>
              Check {gauge} again
            </Button>
            {other === null ? (
              <Button size="touch" onClick={() => void device.leaveZero()}>
                {onward}
              </Button>
            ) : null}
          </div>
          {refused === "" ? null : (
            <p className={parts.refusal} role="alert">
              “{refused}” is not taken here: choose first how to go on, then scan or key it again.
            </p>
          )}
        </section>
      </div>
    </>
  );
}
