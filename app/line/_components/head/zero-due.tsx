"use client";

import type { LineDevice } from "@/lib/offline/line-device";
import { type LineState, serverTimeMs } from "@/lib/offline/device/line-state";
import { dueZeroChecks } from "@/lib/offline/device/station-gauges";
import type { StationPlan } from "@/lib/schemas/station-package";
import { Button } from "@/lib/ui/button";
import { useNow } from "../queue/queue-box";
import styles from "./head.module.css";

/** Gauges at hand that have to be shown their ring before the next frame. */
export function ZeroDue({
  device,
  state,
  plan,
}: Readonly<{ device: LineDevice; state: LineState; plan: StationPlan | null }>) {
  const now = serverTimeMs(state, useNow());
  return dueZeroChecks(state.kit, state.settings, state.gaugeUse, plan, now).map(({ gauge, why }) => (
    <p key={gauge} className={styles.zeroDue}>
      <span>
        Zero check of <b className="mono">{gauge}</b> is due: {why}.
      </span>
      <Button size="touch" onClick={() => void device.checkZero(gauge)}>
        Check it now
      </Button>
    </p>
  ));
}
