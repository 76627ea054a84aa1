import type { BoreMeasurement } from "../../core/metrology/bore-seat";
import type { Seat } from "../../core/metrology/reading-name";
import type { OvalFeature } from "./case";

/**
 * The oval of a seat as a vector, mean of its sections: what it adds to the radius towards 12-6 and towards 1:30-7:30, µm.
 *
 * @returns nothing for a seat whose sections have fewer than three directions
 */
export function ovalVector(seat: Seat, bore: BoreMeasurement | null): Partial<Record<OvalFeature, number>> {
  const ovals = (bore?.sections ?? []).flatMap(({ secondHarmonic }) => secondHarmonic ?? []);
  if (ovals.length === 0) return {};
  let [towards12, towards130] = [0, 0];
  for (const { amplitudeUm, positionDeg } of ovals) {
    const doubled = (2 * positionDeg * Math.PI) / 180;
    towards12 += (amplitudeUm * Math.cos(doubled)) / ovals.length;
    towards130 += (amplitudeUm * Math.sin(doubled)) / ovals.length;
  }
  return seat === "ds"
    ? { "ds.oval.12": towards12, "ds.oval.1:30": towards130 }
    : { "nds.oval.12": towards12, "nds.oval.1:30": towards130 };
}
