"use client";

import { useState } from "react";
import type { LineDevice } from "@/lib/offline/line-device";
import { type LineState, planOfBatch, serverTimeMs } from "@/lib/offline/device/line-state";
import {
  calibratedUntilText,
  dueZeroChecks,
  GAUGE_KINDS,
  gaugeDoubtText,
  gaugesAtHand,
  isOverdue,
  zeroText,
} from "@/lib/offline/device/station-gauges";
import { comparatorOf } from "@/lib/offline/device/zero-check";
import type { StationGauge, StationKit } from "@/lib/schemas/station-package";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { type MarkedState, StateMark } from "@/lib/ui/state-mark";
import { KIND_WORDS } from "../parts/kind-words";
import { useNow } from "../queue/queue-box";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import parts from "../parts/parts.module.css";
import styles from "./head.module.css";

const words = FIRST_SCREEN_WORDS.gauges;

type GaugeListProps = Readonly<{ device: LineDevice; state: LineState; onLeave?: () => void }>;

/** The gauges of the station: which is in hand, until when it is calibrated, how its zero stands. */
export function GaugeList({ device, state, onLeave }: GaugeListProps) {
  const { kit, settings, gaugeUse } = state;
  const [asking, setAsking] = useState<string | null>(null);
  const now = serverTimeMs(state, useNow());
  if (kit === null) return null;
  const atHand = gaugesAtHand(kit, settings);
  const plan = settings.batch === null ? null : planOfBatch(kit, settings.batch);
  const due = new Map(dueZeroChecks(kit, settings, gaugeUse, plan, now).map((one) => [one.gauge, one.why]));
  const gauges = GAUGE_KINDS.flatMap((kind) => kit.gauges.filter((one) => one.kind === kind));
  const several = (gauge: StationGauge) => kit.gauges.filter(({ kind }) => kind === gauge.kind).length > 1;
  const choose = (gauge: StationGauge): void => {
    setAsking(null);
    void device.chooseGauge(gauge.key);
  };
  return (
    <ul className={styles.gauges}>
      {gauges.map((gauge) => {
        const doubt = gaugeDoubtText(gauge, now, { decimal: settings.decimal, zone: kit.zone });
        const isInHand = atHand[gauge.kind] === gauge.key;
        const why = due.get(gauge.key);
        const unchecked = comparatorOf(gauge) !== null && (gauge.zero?.lastAt ?? null) === null;
        const mark: readonly [MarkedState, string] =
          doubt !== null
            ? ["not proven", words.provesNothing]
            : why !== undefined
              ? ["not measured", words.zeroCheckDue]
              : unchecked
                ? ["not measured", words.neverZeroChecked]
                : ["go", words.inOrder];
        return (
          <li key={gauge.key}>
            <StateMark state={mark[0]} size="s" word={mark[1]} wordBeside />
            <div>
              <b className="mono">{gauge.key}</b> {gauge.name}
              {isInHand && several(gauge) ? <b>{words.inHand}</b> : null}
              <small>
                {[
                  KIND_WORDS[gauge.kind].toLowerCase(),
                  calibrationText(gauge, now, kit),
                  zeroText(gauge, kit.zone ?? "UTC", settings.decimal) ?? "",
                  why === undefined ? "" : words.zeroCheckDueWhy(why),
                  doubt === null ? "" : words.readingsProveNothing,
                ]
                  .filter((text) => text !== "")
                  .join("; ")}
              </small>
              {asking === gauge.key && doubt !== null ? (
                <div className={parts.keys} role="group" aria-label={words.useAlthough(gauge.key, doubt)}>
                  <Button size="touch" onClick={() => setAsking(null)} autoFocus>
                    {words.takeAnother}
                  </Button>
                  <Button size="touch" onClick={() => choose(gauge)}>
                    {words.useAllSame(gauge.key)}
                  </Button>
                </div>
              ) : null}
            </div>
            <div className={styles.gaugeKeys}>
              {several(gauge) && !isInHand && gauge.zeroFailed !== true && asking !== gauge.key ? (
                <Button size="touch" onClick={() => (doubt === null ? choose(gauge) : setAsking(gauge.key))}>
                  {words.takeInHand}
                </Button>
              ) : null}
              {comparatorOf(gauge) === null ? null : (
                <Button
                  size="touch"
                  kind={why === undefined ? "plain" : "go"}
                  onClick={() => {
                    onLeave?.();
                    void device.checkZero(gauge.key);
                  }}
                >
                  {words.zeroCheck}
                </Button>
              )}
            </div>
          </li>
        );
      })}
    </ul>
  );
}

function calibrationText(gauge: StationGauge, now: number, kit: StationKit): string {
  const day = calibratedUntilText(gauge, now, kit);
  if (day === null) return words.noCalibration;
  return isOverdue(gauge, now) ? words.calibrationRanOut(day) : words.calibratedUntil(day);
}

/** The gauges while a frame is in hand: readings from here on carry the one taken. */
export function GaugeDialog({ device, state, onClose }: GaugeListProps & Readonly<{ onClose: () => void }>) {
  return (
    <Dialog
      open
      title={words.gaugesAtHand}
      onClose={onClose}
      keys={
        <Button kind="go" size="touch" onClick={onClose}>
          {words.back}
        </Button>
      }
    >
      <GaugeList device={device} state={state} onLeave={onClose} />
      <p className="soft">{words.readingsFromHereOnCarry}</p>
    </Dialog>
  );
}
