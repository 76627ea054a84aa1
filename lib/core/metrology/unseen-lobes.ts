import type { FrameMeasurement } from "./measure-frame";
import { formAllowance } from "./plan-blindness";
import type { Seat } from "./reading-name";
import type { ShellDrawing } from "./shell-drawing";

/** Lobes of a wall that a bar feels (common practice, no source). */
const FELT_LOBES = [2, 3, 4, 5, 6, 7];
/** The first lobe that a two-point gauge does not see. */
const FIRST_ODD = 3;

/** The lowest lobe of a seat that no reading sees. */
export type UnseenLobe = { readonly seat: Seat; readonly order: number };

/**
 * The lowest lobe of each seat that a bar would feel and no reading sees: diameters in three or more directions see the oval, a
 * sweep as many as its angles tell.
 *
 * @param measurement - from measureFrame; only seats with diameters are asked about
 * @returns DS first; none of a seat of which every lobe is seen in each swept section
 */
export function unseenLobesOfPair({ bores, swept }: FrameMeasurement): UnseenLobe[] {
  return (["ds", "nds"] as const).flatMap((seat): UnseenLobe[] => {
    const bore = bores[seat];
    if (bore === null) return [];
    const byDiameters = bore.sections.every(({ secondHarmonic }) => secondHarmonic !== null) ? [2] : [];
    const sections = (swept[0]?.swept === seat ? swept[0].sections : []).flatMap(({ fit }) =>
      fit === null ? [] : [fit],
    );
    const bySweep =
      sections.length === 0
        ? []
        : FELT_LOBES.filter((order) => sections.every(({ lobes }) => lobes.some((lobe) => lobe.order === order)));
    const order = FELT_LOBES.find((one) => !byDiameters.includes(one) && !bySweep.includes(one));
    return order === undefined ? [] : [{ seat, order }];
  });
}

/**
 * Standard uncertainty of the largest bar by lobes that nothing saw, µm.
 * Formula: u = 2 A / sqrt(3), A the largest amplitude: a lobe takes up to twice its amplitude off the bar
 * A = half the drawing's ovality limit for three lobes, less for more of them as 3 / order (common practice, no source); without
 * such a limit, of the size's tolerance
 *
 * @returns k = 1; 0 where every lobe was seen
 * Source: GUM 4.3.7, anything from 0 to A
 */
export function unseenLobeStandardUm(drawing: ShellDrawing, unseen: readonly UnseenLobe[]): number {
  if (unseen.length === 0) return 0;
  const lowest = Math.max(FIRST_ODD, Math.min(...unseen.map(({ order }) => order)));
  return (2 * formAllowance(drawing).lobeUm * (FIRST_ODD / lowest)) / Math.sqrt(3);
}
