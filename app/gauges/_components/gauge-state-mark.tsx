import { GAUGE_STATE_WORDS } from "@/lib/format/gauge-words";
import type { GaugeState } from "@/lib/quality/gauge-state";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";

/** The mark of what a gauge's readings prove. */
const MARK = {
  "in-use": "conforms",
  "in-doubt": "not proven",
  quarantined: "held",
  retired: "not measured",
} as const satisfies Record<GaugeState, MarkedState>;

/** State of a gauge: its mark with its word. */
export function GaugeStateMark({ state }: Readonly<{ state: GaugeState }>) {
  return <StateMark state={MARK[state]} word={GAUGE_STATE_WORDS[state]} />;
}
