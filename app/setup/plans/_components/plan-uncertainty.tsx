import { CHARACTERISTIC_UNIT, type CharacteristicName, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { MeasuringOptions } from "@/lib/core/metrology/measure-frame";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { formatPercent, formatUncertainty } from "@/lib/format/number-text";
import { assessPlanUncertainty, type PlannedCharacteristic } from "@/lib/quality/plan-uncertainty";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { StateMark } from "@/lib/ui/state-mark";
import { PLAN_WORDS } from "../../words/plans";

const words = PLAN_WORDS.uncertainty;

function assess(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  measuring: MeasuringOptions,
): readonly PlannedCharacteristic[] | null {
  try {
    return assessPlanUncertainty(drawing, names, measuring);
  } catch {
    // The readings do not fit the drawing yet; what is wrong is said where the plan is saved.
    return null;
  }
}

/** What plugs and bars can prove of a characteristic: nobody reads it. */
function reach({ canConform, canFail }: NonNullable<PlannedCharacteristic["felt"]>) {
  if (canConform) return canFail ? words.boundsProvesBothWays : words.boundsProvesConformsNotFails;
  return (
    <>
      <StateMark state="not proven" wordBeside size="s" />{" "}
      {canFail ? words.boundsCanOnlyProveFails : words.boundsProveNothing}
    </>
  );
}

function judgement({ eatsTolerance, large, felt }: PlannedCharacteristic) {
  if (felt !== undefined) return reach(felt);
  if (eatsTolerance)
    return (
      <>
        <StateMark state="does not conform" wordBeside size="s" /> {words.noValueCanConform}
      </>
    );
  return large ? (
    <>
      <StateMark state="not proven" wordBeside size="s" /> {words.usesMuchOf}
    </>
  ) : (
    "fits"
  );
}

function uncertaintyText(name: CharacteristicName, uncertainty: number): string {
  return formatUncertainty(uncertainty, CHARACTERISTIC_UNIT[name]);
}

/** U of each characteristic under a plan, and what it leaves of the tolerance. */
export function PlanUncertaintyTable({
  drawing,
  names,
  measuring = {},
}: Readonly<{ drawing: ShellDrawing; names: readonly ReadingName[]; measuring?: MeasuringOptions }>) {
  const assessed = assess(drawing, names, measuring);
  const given = new Set((assessed ?? []).map((one) => one.name));
  const missing = drawing.characteristics.filter((one) => !given.has(one.name));
  return (
    <>
      <DataTable
        caption={words.uncertaintyUnderPlan}
        captionHidden
        rowHead="name"
        columns={[
          {
            key: "name",
            label: words.characteristic,
            cell: (one) => (one.seat === null ? one.name : `${one.name}, ${one.seat.toUpperCase()}`),
          },
          { key: "u", label: words.uK2, kind: "numeric", cell: (one) => uncertaintyText(one.name, one.uncertainty) },
          {
            key: "unseen",
            label: words.ofUnseen,
            kind: "numeric",
            cell: (one) => (one.unseen > 0 ? uncertaintyText(one.name, one.unseen) : ""),
          },
          {
            key: "share",
            label: words.ofTolerance,
            kind: "numeric",
            cell: (one) => (one.shareOfTolerance === null ? "" : formatPercent(one.shareOfTolerance)),
          },
          { key: "judgement", label: words.so, cell: judgement },
        ]}
        rows={assessed ?? []}
        rowKey={(one) => `${one.name} ${one.seat ?? ""}`}
        empty={
          <EmptyState title={assessed === null ? words.theseReadingsDoNotFit : words.nothingCanBeJudgedYet}>
            {assessed === null ? words.depthLiesOutsideSeat : words.chooseReadings}
          </EmptyState>
        }
      />
      {missing.length > 0 && assessed !== null ? (
        <p>
          {words.notGivenByPlan(missing.map((one) => (one.critical ? `${one.name} (critical)` : one.name)).join(", "))}
        </p>
      ) : null}
    </>
  );
}
