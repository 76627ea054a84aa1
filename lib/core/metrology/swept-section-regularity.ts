import type { BoreMeasurement } from "./bore-seat";
import { keyedStepUm } from "./keyed-step";
import type { CompiledMeasurement, FrameMeasurement } from "./measure-frame";
import { sweepRegularity, type RegularityOptions, type SweepRegularity } from "./sweep-regularity";
import type { SweptSeatDesign } from "./swept-seat";

/** One swept section with what its residuals and its closing reading say. */
export type SectionRegularity = {
  readonly depthMm: number;
  readonly regularity: SweepRegularity;
  /** Places of its readings in the plan, in the order of `regularity`'s angles; the closing reading is not among them. */
  readonly indices: readonly number[];
  /** All its readings, the closing one among them. */
  readonly allIndices: readonly number[];
  readonly closingErrorUm: number | null;
  readonly closes: boolean;
  /** Shift of the fitted centre, µm, by each slip of the closing error between two readings; empty where it closes. */
  readonly closingShifts: readonly (readonly [towards12: number, towards3: number])[];
};

/** Step in which the sweep readings of a frame were keyed, µm; 0 where it does not show. */
export function sweepStepUm({ names }: CompiledMeasurement, values: readonly (number | null)[]): number {
  return keyedStepUm(
    names.flatMap((name, index) => {
      const value = values[index];
      return name.kind === "sweep" && typeof value === "number" ? [value] : [];
    }),
  );
}

/** Oval of the same section by its diameters, as components of the radius. */
function ovalOf(bore: BoreMeasurement | null, depthMm: number): RegularityOptions["oval"] {
  const second = bore?.sections.find((section) => section.depthMm === depthMm)?.secondHarmonic ?? null;
  if (second === null) return null;
  const phase = (second.positionDeg * Math.PI) / 90;
  return {
    cosUm: second.amplitudeUm * Math.cos(phase),
    sinUm: second.amplitudeUm * Math.sin(phase),
    errorUm: second.standardErrorUm,
  };
}

/** What a slip by the closing error, before each of the readings after the first, does to the centre. */
function closingShifts(
  design: SweptSeatDesign["sections"][number],
  errorUm: number,
): (readonly [towards12: number, towards3: number])[] {
  const { sweep } = design;
  if (sweep === null) return [];
  const k = sweep.fitted.length;
  const { inverse } = sweep.harmonics;
  return Array.from({ length: k }, (_, place) => {
    let towards12 = 0;
    let towards3 = 0;
    for (let i = Math.max(place, 1); i < k; i += 1) {
      towards12 += errorUm * inverse[k + i]!;
      towards3 += errorUm * inverse[2 * k + i]!;
    }
    return [towards12, towards3] as const;
  });
}

/**
 * Regularity of each swept section of a seat that has a fit: residuals against the budget with the step of the readings, and
 * the closing error against its limit.
 *
 * @param place - of the swept seat in `compiled.designs.swept`
 */
export function sweptRegularity(
  compiled: CompiledMeasurement,
  { bores, swept }: Pick<FrameMeasurement, "bores" | "swept">,
  values: readonly (number | null)[],
  place: number,
): SectionRegularity[] {
  const design = compiled.designs.swept[place];
  const measured = swept[place];
  if (design === undefined || measured === undefined) return [];
  const stepUm = sweepStepUm(compiled, values);
  return design.sections.flatMap((section, at): SectionRegularity[] => {
    const fit = measured.sections[at]?.fit ?? null;
    if (fit === null) return [];
    const present = section.indices.flatMap((index, i) => {
      const value = values[index] ?? null;
      return value === null ? [] : [{ index, angleDeg: section.anglesDeg[i] ?? 0, value }];
    });
    const swings = present.some(({ angleDeg }) => angleDeg === 0);
    const tested = present.filter(({ angleDeg }) => !(swings && angleDeg === 360));
    const closes = fit.closes !== false;
    return [
      {
        depthMm: section.depthMm,
        regularity: sweepRegularity(
          tested.map(({ angleDeg }) => angleDeg),
          tested.map(({ value }) => value),
          { stepUm, oval: ovalOf(bores[design.swept], section.depthMm) },
        ),
        indices: tested.map(({ index }) => index),
        allIndices: present.map(({ index }) => index),
        closingErrorUm: fit.closingErrorUm,
        closes: closes || Math.abs(fit.closingErrorUm ?? 0) <= compiled.closingLimitUm + Math.max(0, stepUm - 1),
        closingShifts: closes ? [] : closingShifts(section, fit.closingErrorUm ?? 0),
      },
    ];
  });
}
