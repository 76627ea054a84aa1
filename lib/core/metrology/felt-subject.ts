import type { Seat } from "./reading-name";
import type { CharacteristicName } from "./shell-drawing";

/** What a contradiction between feeling and reading is about: the plugs of one seat, or the bars. */
export const FELT_SUBJECTS = ["ds.plug", "nds.plug", "bar"] as const;
export type FeltSubject = (typeof FELT_SUBJECTS)[number];

/** Which side of such a contradiction counts. */
export const FELT_SIDES = ["readings", "felt"] as const;
export type FeltSide = (typeof FELT_SIDES)[number];

/** Which gauges a characteristic is felt with; null where none feels it. */
export function feltSubjectOf({
  name,
  seat,
}: {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
}): FeltSubject | null {
  if (name === "bore") return seat === null ? null : `${seat}.plug`;
  return name === "tilt" || name === "coaxiality" ? "bar" : null;
}
