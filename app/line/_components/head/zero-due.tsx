"use client";

import type { LineDevice } from "@/lib/offline/line-device";
import { type LineState, serverTimeMs } from "@/lib/offline/device/line-state";
import { dueZeroChecks } from "@/lib/offline/device/station-gauges";
import type { StationPlan } from "@/lib/schemas/station-package";
import { Button } from "@/lib/ui/button";
import { useNow } from "../queue/queue-box";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./head.module.css";

const words = FIRST_SCREEN_WORDS.zeroDue;

/** Gauges at hand that have to be shown their ring before the next frame. */
export function ZeroDue({
  device,
  state,
  plan,
}: Readonly<{ device: LineDevice; state: LineState; plan: StationPlan | null }>) {
  const now = serverTimeMs(state, useNow());
  return dueZeroChecks(state.kit, state.settings, state.gaugeUse, plan, now).map(({ gauge, why }) => (
    <p key={gauge} className={styles.zeroDue}>
      <span>{words.zeroCheckOfIsDue(<b className="mono">{gauge}</b>, why)}</span>
      <Button size="touch" onClick={() => void device.checkZero(gauge)}>
        {words.checkNow}
      </Button>
    </p>
  ));
}
