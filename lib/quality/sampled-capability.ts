import { formatFixed } from "../format/number-text";
import { countText, seatText } from "../format/value-text";
import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import type { StreamBound } from "./stream-capability";

/**
 * What a stream says about the frames of a sampled batch that nobody measured: for one critical characteristic, the bound of its
 * nonconforming fraction, why there is none, or that it is being computed.
 */
export type CapabilityFinding = {
  readonly characteristic: CharacteristicName;
  readonly seat: Seat | null;
  /** Fraction that the drawing allows. */
  readonly limit: number;
  /** Where a batch was measured at several: the operation of the stream. */
  readonly operation: string | null;
  readonly bound: StreamBound | "being computed";
};

/** Whether frames that nobody measured have to wait: only a bound that is known, and within what the drawing allows, lets them go. */
export function capabilityStops({ bound, limit }: CapabilityFinding): boolean {
  return bound === "being computed" || !bound.ok || bound.fraction > limit;
}

/** What holds the unmeasured frames where nobody has asked their streams yet. */
export const CAPABILITY_NOT_ASKED = "the capability of its line is being computed, ask again";

/** Two decimals, so that a bound just over what is allowed does not read like it. */
function percentText(share: number): string {
  return `${formatFixed(share * 100, 2)} %`;
}

/** A finding in words and numbers, without a full stop. */
export function capabilityText({ characteristic, seat, limit, operation, bound }: CapabilityFinding): string {
  const subject = `${characteristic}${seatText(seat)}${operation === null ? "" : `, ${operation}`}`;
  if (bound === "being computed") return `the capability of ${subject} is being computed, ask again`;
  if (!bound.ok) return `the capability of ${subject} is not known yet: ${bound.because}`;
  return `${subject}: by the last ${countText(bound.frames, "frame")} up to ${percentText(bound.fraction)} may not conform (95 % bound), allowed ${percentText(limit)}`;
}
