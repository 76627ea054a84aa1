import { crossedAnova, type CrossedAnova } from "@/lib/core/gauge-studies/crossed-anova";
import { crossedLayout, type CrossedLayout, type StudyReading } from "@/lib/core/gauge-studies/crossed-layout";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import reference from "@/tests/reference/gauge-studies.json";

/** The printed study: inspector -> trial -> part. */
export const PRINTED: readonly StudyReading[] = Object.entries(
  reference.cases[0]?.input.data as unknown as Record<string, number[][]>,
).flatMap(([inspector, trials]) =>
  trials.flatMap((values, trial) =>
    values.map((value, part) => ({ part: String(part + 1), inspector, trial: String(trial + 1), value })),
  ),
);

export function layoutOf(readings: readonly StudyReading[]): CrossedLayout {
  const layout = crossedLayout(readings);
  if (!layout.ok) throw new Error(layout.reason);
  return layout.value;
}

export function anovaOf(layout: CrossedLayout): CrossedAnova {
  const anova = crossedAnova(layout);
  if (!anova.ok) throw new Error(anova.reason);
  return anova.value;
}

export type TrueSds = Readonly<{ part: number; inspector: number; interaction: number; repeatability: number }>;

/** A study drawn from the random model. */
export function drawnStudy(
  generator: SeededGenerator,
  [p, o, r]: readonly [number, number, number],
  sds: TrueSds,
): CrossedLayout {
  const draw = (count: number, sd: number) => Array.from({ length: count }, () => sd * generator.normal());
  const names = (count: number) => Array.from({ length: count }, (_, index) => String(index));
  const [parts, inspectors, cells] = [draw(p, sds.part), draw(o, sds.inspector), draw(p * o, sds.interaction)];
  const values = Array.from({ length: p * o * r }, (_, at) => {
    const cell = Math.floor(at / r);
    return parts[Math.floor(cell / o)]! + inspectors[cell % o]! + cells[cell]! + sds.repeatability * generator.normal();
  });
  return { parts: names(p), inspectors: names(o), trials: names(r), values };
}

export const seeded = createSeededGenerator;
