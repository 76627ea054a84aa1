import { featureNamed, type FeatureName } from "../../core/metrology/features";
import type { Seat } from "../../core/metrology/reading-name";
import type { CharacteristicName } from "../../core/metrology/shell-drawing";
import type { Case } from "./case";
import { streamRole } from "./stream-kind";

/** Characteristics and seats that moved, each once, the one that moved most first; the ovals speak for ovality. */
export function caseCharacteristics({
  members,
}: Pick<Case, "members">): { name: CharacteristicName; seat: Seat | null }[] {
  const named = new Map<string, { name: CharacteristicName; seat: Seat | null }>();
  for (const { feature } of members) {
    const role = streamRole(feature);
    const { characteristic, seat } =
      role?.kind === "oval"
        ? { characteristic: "ovality" as const, seat: role.seat }
        : featureNamed(feature as FeatureName);
    named.set(`${characteristic} ${seat ?? ""}`, { name: characteristic, seat });
  }
  return [...named.values()];
}
