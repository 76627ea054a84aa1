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
