import type { PlugTrial } from "../core/metrology/plug-evidence";
import type { Seat } from "../core/metrology/reading-name";
import type { Characteristic, CharacteristicUnit } from "../core/metrology/shell-drawing";
import type { AlignmentBounds, BarBounds, SeatBounds } from "./felt-bounds";

/** Why plugs or bar decide as they do: a code and the numbers of it. */
export type FeltReason =
  | { readonly code: "trials-missing"; readonly labels: readonly string[] }
  | { readonly code: "plugs-contradict"; readonly seat: Seat; readonly leastMm: number; readonly mostMm: number }
  | {
      readonly code: "plug-contradicts-reading";
      readonly seat: Seat;
      readonly side: "bore-too-small" | "bore-too-large";
      readonly plug: PlugTrial;
      readonly boreMm: number;
      readonly beyondUm: number;
    }
  | {
      readonly code: "plug-bounds";
      readonly seat: Seat;
      readonly bounds: SeatBounds;
      readonly limits: Characteristic;
      readonly plugUm: number;
    }
  | { readonly code: "unknown-set"; readonly sets: readonly string[] }
  | { readonly code: "bars-contradict"; readonly bars: readonly [BarBounds, BarBounds] }
  | {
      readonly code: "bar-contradicts-reading";
      readonly bar: BarBounds;
      readonly read: { readonly value: number; readonly unit: CharacteristicUnit };
      readonly beyond: number;
    }
  | {
      readonly code: "bar-bounds";
      readonly name: "tilt" | "coaxiality";
      readonly bars: readonly BarBounds[];
      readonly bounds: AlignmentBounds;
      readonly limits: Characteristic;
    };
