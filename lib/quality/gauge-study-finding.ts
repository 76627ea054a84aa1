import { averageAndRange, type AverageAndRange } from "../core/gauge-studies/average-and-range";
import { crossedAnova, type CrossedAnova } from "../core/gauge-studies/crossed-anova";
import { crossedLayout, type CrossedLayout, type StudyReading } from "../core/gauge-studies/crossed-layout";
import { exchangedParts, type ExchangedParts } from "../core/gauge-studies/exchanged-parts";
import { studyComponents, type StudyComponents } from "../core/gauge-studies/study-components";
import { studentTQuantile } from "../core/distributions/student-t";
import type { Estimate } from "../core/errors";

/** An inspector who reads differently from the others, unit of the readings; `reach` is half of the interval of 95 %. */
export type InspectorOff = { readonly inspector: string; readonly difference: number; readonly reach: number };

/** What a complete study says, by both methods. */
export type GaugeStudyFinding = {
  readonly layout: CrossedLayout;
  readonly anova: CrossedAnova;
  readonly components: StudyComponents;
  /** Null where average and range has no constants for so many. */
  readonly ranges: AverageAndRange | null;
  readonly off: InspectorOff | null;
  readonly exchanged: ExchangedParts | null;
};

const ERROR_SHARE = 0.05;

/**
 * The inspector whose mean lies farthest from that of the others, where it lies farther than chance has it (Bonferroni over the
 * inspectors): a hold or a habit, which the words say and blame nobody.
 */
function inspectorOff(layout: CrossedLayout, anova: CrossedAnova, { isPooled }: StudyComponents): InspectorOff | null {
  const { inspectors, parts, trials } = anova;
  const error = isPooled ? anova.pooled : anova.interaction;
  const effects = anova.inspectorEffects;
  const farthest = effects.reduce((best, each, at) => (Math.abs(each) > Math.abs(effects[best] ?? 0) ? at : best), 0);
  const difference = ((effects[farthest] ?? 0) * inspectors) / (inspectors - 1);
  const variance = (error.meanSquare / (parts * trials)) * (1 + 1 / (inspectors - 1));
  const reach = studentTQuantile(1 - ERROR_SHARE / 2 / inspectors, error.degrees) * Math.sqrt(variance);
  // Of two inspectors nobody can say which of them reads right.
  if (inspectors < 3 || !(Math.abs(difference) > reach)) return null;
  return { inspector: layout.inspectors[farthest] ?? "", difference, reach };
}

/**
 * What the readings of a study say by analysis of variance and by average and range.
 *
 * @returns ok: false with a reason where they give no answer
 * @throws CoreError not-finite, duplicate
 */
export function gaugeStudyFinding(readings: readonly StudyReading[]): Estimate<GaugeStudyFinding> {
  const layout = crossedLayout(readings);
  if (!layout.ok) return layout;
  const anova = crossedAnova(layout.value);
  if (!anova.ok) return anova;
  const components = studyComponents(anova.value);
  const ranges = averageAndRange(layout.value);
  return {
    ok: true,
    warnings: [],
    value: {
      layout: layout.value,
      anova: anova.value,
      components,
      ranges: ranges.ok ? ranges.value : null,
      off: inspectorOff(layout.value, anova.value, components),
      exchanged: exchangedParts(layout.value),
    },
  };
}
