import { rejectedDiameter } from "../core/metrology/bore-regularity";
import { keyedStepUm } from "../core/metrology/keyed-step";
import { type CompiledMeasurement, type FrameMeasurement, measureFrame } from "../core/metrology/measure-frame";
import type { Seat } from "../core/metrology/reading-name";
import { judgeFrame } from "./judge-frame";
import type { JudgingDoubt } from "./judging-doubt";
import type { Regularity } from "./sweep-doubts";

const SEATS = ["ds", "nds"] as const;

/** Step in which the sizes of a frame were keyed, µm; 0 where it does not show. */
export function boreStepUm({ names }: CompiledMeasurement, values: readonly (number | null)[]): number {
  return keyedStepUm(
    names.flatMap((name, index) => {
      const value = values[index];
      return name.kind === "bore" && typeof value === "number" ? [value * 1000] : [];
    }),
  );
}

type Rejected = { readonly index: number; readonly byUm: number; readonly of: "seat" | "face" };

function rejectedOf(
  { compiled, readings }: Regularity,
  measurement: FrameMeasurement,
  seat: Seat,
): readonly Rejected[] {
  const design = compiled.designs.bores[seat];
  const bore = design === null ? null : rejectedDiameter(design, readings, boreStepUm(compiled, readings));
  const face = measurement.faces[seat];
  return [
    ...(bore === null ? [] : [{ ...bore, of: "seat" as const }]),
    ...(face === null || face.outlierIndex === null
      ? []
      : [{ index: face.outlierIndex, byUm: face.outlierDeviationUm ?? 0, of: "face" as const }]),
  ];
}

/**
 * Doubts about failures that hang on one reading which the others reject: a diameter or a face reading without
 * which ovality, taper or run-out would not fail. That reading is taken again. The size itself is not doubted: every two-point size
 * is judged (ISO 14405-1 LP), so that a single one beyond a limit is a failure; the station asks for it again before that.
 */
export function rejectedReadingDoubts(regularity: Regularity, measurement: FrameMeasurement): JudgingDoubt[] {
  const { drawing, compiled, readings } = regularity;
  return SEATS.flatMap((seat) =>
    rejectedOf(regularity, measurement, seat).flatMap(({ index, byUm, of }) => {
      const without = readings.map((value, at) => (at === index ? null : value));
      const measured = { ...measureFrame(compiled, without), missing: [] };
      const judged = (found: FrameMeasurement) => judgeFrame(drawing, compiled, found).characteristics;
      const rest = judged(measured);
      return judged({ ...measurement, missing: [] }).flatMap((one, at): JudgingDoubt[] => {
        const concerned = compiled.covered[at]?.indices.includes(index) ?? false;
        if (
          !concerned ||
          one.name === "bore" ||
          one.verdict !== "does not conform" ||
          rest[at]?.verdict === "does not conform"
        )
          return [];
        return [
          {
            name: one.name,
            seat: one.seat,
            code: "reading-rejected",
            reason: { code: "reading-rejected", label: compiled.labels[index] ?? "", byUm, of },
            readings: [index],
            alsoFailure: true,
          },
        ];
      });
    }),
  );
}
