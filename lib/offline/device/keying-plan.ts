import { parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import type { StationPlan } from "@/lib/schemas/station-package";
import type { KeyingPlan } from "./keying-session";
import type { LineState } from "./line-state";
import { usedGauge } from "./frame-gauges";
import { gaugesAtHand } from "./station-gauges";

/** Names of a plan's readings; a name that this version cannot read makes the plan unusable here. */
export function readingNamesOf(plan: StationPlan): readonly ReadingName[] | null {
  const names = plan.readingNames.map(parseReadingName);
  return names.every((name) => name.ok) ? names.flatMap((name) => (name.ok ? [name.value] : [])) : null;
}

/** What keying needs of a plan, with the gauges at hand. */
export function keyingPlan(state: Pick<LineState, "kit" | "settings" | "inspector">, plan: StationPlan): KeyingPlan {
  const gauges = gaugesAtHand(state.kit, state.settings);
  const bore = state.kit?.gauges.find((gauge) => gauge.key === gauges.bore);
  return {
    drawing: plan.drawing,
    names: readingNamesOf(plan) ?? [],
    ringMm: state.settings.boreEntry === "deviation" ? (bore?.ringMm ?? null) : null,
    smallUnit: state.settings.smallUnit,
    gauges,
    known: Object.fromEntries(
      (state.kit?.gauges ?? [])
        .filter((gauge) => gauges[gauge.kind] === gauge.key)
        .map((gauge) => [gauge.kind, usedGauge(gauge)]),
    ),
    inspector: inspectorCodeOf(state),
    measuring: measuringOptions(plan.settings),
  };
}

/** Code of who measures: of the badge scanned last, else of who is signed in. */
export function inspectorCodeOf({ inspector, kit }: Pick<LineState, "kit" | "inspector">): string | null {
  return inspector?.code ?? kit?.viewer?.code ?? null;
}
