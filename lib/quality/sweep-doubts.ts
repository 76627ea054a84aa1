import type { CompiledMeasurement, FrameMeasurement } from "../core/metrology/measure-frame";
import { type SectionRegularity, sweptRegularity } from "../core/metrology/swept-section-regularity";
import { alignSweptCentres, type SweptSeatDesign, type SweptSeatMeasurement } from "../core/metrology/swept-seat";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import type { Seat } from "../core/metrology/reading-name";
import { conformity, guardBand } from "./conformity";
import type { JudgingDoubt } from "./judging-doubt";
import type { RejectedReason, SweepReason } from "./judging-reason";

type Shift = readonly [towards12: number, towards3: number];

/** What a frame's readings are judged with. */
export type Regularity = {
  readonly drawing: ShellDrawing;
  readonly compiled: CompiledMeasurement;
  readonly readings: readonly (number | null)[];
};

/** More combinations than this are not tried: then nothing is proven. */
const COMBINATIONS_MAX = 4096;

/** Shifts of a section's centre that its readings leave possible; null where no single cause explains them. */
function possibleShifts({ regularity, closingShifts }: SectionRegularity): readonly Shift[] | null {
  if (regularity.isIrregular && regularity.explanations.length === 0) return null;
  const slips = regularity.explanations.map(({ centreUm }) => centreUm);
  return [[0, 0], ...slips, ...closingShifts];
}

/** Every combination of one shift per section; null where that cannot be said, or where there are too many. */
function combinations(sections: readonly SectionRegularity[]): readonly (readonly Shift[])[] | null {
  let all: readonly (readonly Shift[])[] = [[]];
  for (const section of sections) {
    const shifts = possibleShifts(section);
    if (shifts === null || shifts.length * all.length > COMBINATIONS_MAX) return null;
    all = all.flatMap((before) => shifts.map((shift) => [...before, shift]));
  }
  return all;
}

/** Values of the alignment, as far as any single slip or wrong reading in each section may have taken it off. */
function possibleAlignments(
  design: SweptSeatDesign,
  measured: SweptSeatMeasurement,
  sections: readonly SectionRegularity[],
) {
  const fitted = measured.sections.flatMap(({ xMm, fit }) => (fit === null ? [] : [{ xMm, fit }]));
  return (
    combinations(sections)?.map((shifts) =>
      alignSweptCentres(
        design,
        fitted.map(({ xMm, fit }, at) => ({
          xMm,
          yMm: (fit.towards12Um - (shifts[at]?.[0] ?? 0)) / 1000,
          zMm: (fit.towards3Um - (shifts[at]?.[1] ?? 0)) / 1000,
        })),
      ),
    ) ?? null
  );
}

/** True where a characteristic fails whatever single cause made its sweep irregular. */
function failsAnyway(
  { drawing, compiled }: Regularity,
  name: CharacteristicName,
  seat: Seat,
  values: readonly (number | null)[] | null,
): boolean {
  const limits = drawing.characteristics.find((one) => one.name === name);
  const covered = compiled.covered.find((one) => one.name === name && one.seat === seat);
  if (values === null || limits === undefined || covered === undefined) return false;
  const guard = guardBand(drawing.decisionRule, covered.uncertainty);
  return values.every((value) => value !== null && conformity(value, { ...limits, guard }) === "does not conform");
}

/**
 * The most likely single wrong reading; null where a slip explains the residuals as well or nothing does. A slip beside the first
 * or the last reading is that reading alone being off: taking it again mends both.
 */
function wrongReading({ regularity, indices }: SectionRegularity): { index: number; byUm: number } | null {
  const { explanations } = regularity;
  const isInner = ({ kind, place }: (typeof explanations)[number]): boolean =>
    kind === "slip" && place > 1 && place < indices.length - 1;
  if (explanations.some(isInner)) return null;
  const [found] = explanations
    .filter(({ kind }) => kind === "reading")
    .sort((a, b) => Math.abs(a.byUm) - Math.abs(b.byUm));
  const index = found === undefined ? undefined : indices[found.place];
  return found === undefined || index === undefined ? null : { index, byUm: found.byUm };
}

/** One swept section that is not regular, with the readings to take again. */
export type SweepFault = {
  readonly code: "sweep-irregular" | "sweep-not-closed" | "reading-rejected";
  readonly seat: Seat;
  readonly depthMm: number;
  readonly reason: SweepReason | RejectedReason;
  readonly readings: readonly number[];
};

function faultOf(
  { labels, closingLimitUm }: CompiledMeasurement,
  seat: Seat,
  section: SectionRegularity,
): SweepFault | null {
  const { depthMm, regularity, closes, closingErrorUm, allIndices } = section;
  const base = { seat, depthMm };
  if (!closes && closingErrorUm !== null)
    return {
      ...base,
      code: "sweep-not-closed",
      reason: { ...base, code: "sweep-not-closed", byUm: closingErrorUm, limitUm: closingLimitUm },
      readings: allIndices,
    };
  if (!regularity.isIrregular) return null;
  const wrong = wrongReading(section);
  if (wrong !== null)
    return {
      ...base,
      code: "reading-rejected",
      reason: { code: "reading-rejected", label: labels[wrong.index] ?? "", byUm: wrong.byUm, of: "sweep" },
      readings: [wrong.index],
    };
  return {
    ...base,
    code: "sweep-irregular",
    reason: {
      ...base,
      code: "sweep-scatters",
      residualSdUm: regularity.residualSdUm,
      budgetUm: regularity.budgetUm,
    },
    readings: allIndices,
  };
}

/**
 * Swept sections of a frame that are not regular: a slip, a wrong reading, a sweep that does not close. What a station asks to
 * sweep again while the shell is on it.
 *
 * @param measurement - from measureFrame with the same plan and readings
 */
export function sweepFaults(
  { compiled, readings }: Pick<Regularity, "compiled" | "readings">,
  measurement: Pick<FrameMeasurement, "bores" | "swept">,
): SweepFault[] {
  return compiled.designs.swept.flatMap(({ swept }, place) =>
    sweptRegularity(compiled, measurement, readings, place).flatMap(
      (section) => faultOf(compiled, swept, section) ?? [],
    ),
  );
}

/**
 * Doubts from sweeps that are not regular. Conformity is never proven by such a sweep; a failure stays where
 * every single slip or wrong reading that explains the residuals leaves it one.
 */
export function sweepDoubts(regularity: Regularity, measurement: FrameMeasurement): JudgingDoubt[] {
  const { compiled, readings } = regularity;
  return compiled.designs.swept.flatMap((design, place) => {
    const measured = measurement.swept[place];
    const sections = sweptRegularity(compiled, measurement, readings, place);
    const fault = sections.map((section) => faultOf(compiled, design.swept, section)).find((one) => one !== null);
    if (measured === undefined || fault === undefined || fault === null) return [];
    const possible = possibleAlignments(design, measured, sections);
    const concerned: readonly { name: CharacteristicName; seat: Seat; values: (number | null)[] | null }[] = [
      { name: "coaxiality", seat: design.swept, values: possible?.map(({ zoneUm }) => zoneUm) ?? null },
      ...(place === 0
        ? [
            { name: "tilt" as const, seat: "ds" as const, values: possible?.map((one) => one.tiltDsArcmin) ?? null },
            { name: "tilt" as const, seat: "nds" as const, values: possible?.map((one) => one.tiltNdsArcmin) ?? null },
          ]
        : []),
    ];
    return concerned.map(({ name, seat, values }): JudgingDoubt => {
      const { code, reason, readings: again } = fault;
      return {
        name,
        seat,
        code,
        reason,
        readings: again,
        alsoFailure: !failsAnyway(regularity, name, seat, values),
      };
    });
  });
}
