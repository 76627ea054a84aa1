"use client";

import { useId, useState } from "react";
import { fullPlan, plugsAndBarPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { ActionError, ActionResult } from "@/lib/schemas/action-result";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { SectionHeading } from "@/lib/ui/page-frame";
import { useAction } from "@/lib/ui/use-action";
import { changePlanDraftAction, draftPlanAction } from "../../actions";
import { OrderList } from "./order-list";
import {
  choicesOf,
  inOrder,
  readNames,
  reconcile,
  SEATS,
  unreadBars,
  unreadNumbers,
  type KeyingOrder,
  type PlanChoices,
} from "./plan-choices";
import { planContentOf, type PlanEntry, typedMeasuring } from "./plan-entry";
import { PlanField } from "./plan-field";
import { PlanPreview } from "./plan-preview";
import { PlanRules, type OtherPlan, type SuggestedForm } from "./plan-rules";
import { PlanUncertaintyTable } from "./plan-uncertainty";
import { ReadingChoices } from "./reading-choices";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const words = PLAN_WORDS.editor;

type Mode = "new" | "revision" | "draft";
type PlanEditorProps = Readonly<{
  initial: PlanEntry;
  mode: Mode;
  drawing: ShellDrawing;
  drawingRevisionId: string;
  /** Plans for the same drawing, beside this one. */
  others: readonly OtherPlan[];
  observed: SuggestedForm;
  id?: string;
  seen?: string;
}>;

const ORDERS: readonly { readonly value: KeyingOrder; readonly label: string }[] = [
  { value: "direction", label: words.allDepthsAtDirection },
  { value: "depth", label: words.allDirectionsAtDepth },
  { value: "sides", label: words.sidesInTurn },
];
const UNREAD: ActionError = {
  code: "invalid-input",
  message: words.aDepth,
};

function hasUnread(choices: PlanChoices): boolean {
  const depths = SEATS.flatMap((seat) => [choices.bore[seat].depths, choices.sweep[seat].depths]);
  return (
    [...depths, choices.plugs, choices.rods].some((text) => unreadNumbers(text)) ||
    unreadBars(choices.bars) !== undefined
  );
}

/** A measuring plan while it is made or changed: what is read, in which order, of which frames. */
export function PlanEditor({ initial, mode, drawing, drawingRevisionId, others, observed, id, seen }: PlanEditorProps) {
  const base = useId();
  const [entry, setEntry] = useState(initial);
  const [choices, setChoices] = useState(() => choicesOf(readNames(initial.order)));
  const [at, setAt] = useState(0);
  const { result, error, isReady, submits, forget } = useAction<unknown>();
  const names = readNames(entry.order);
  const place = Math.max(0, Math.min(at, entry.order.length - 1));
  const problem = (path: string): string | undefined =>
    error?.fields?.find(
      (one) => one.path === path || one.path.startsWith(`${path}.`) || one.path.startsWith(`${path}[`),
    )?.message;

  const change = (part: Partial<PlanEntry>) => {
    setEntry({ ...entry, ...part });
    forget();
  };
  const choose = (next: PlanChoices) => {
    setChoices(next);
    change({ order: reconcile(entry.order, next) });
  };
  const take = (order: readonly string[]) => {
    setChoices(choicesOf(readNames(order)));
    setAt(0);
    change({ order });
  };
  const move = (from: number, to: number) => {
    const order = [...entry.order];
    const [moved] = order.splice(from, 1);
    if (moved === undefined) return;
    order.splice(to, 0, moved);
    setAt(to);
    change({ order });
  };

  const save = async (): Promise<ActionResult<unknown>> => {
    if (hasUnread(choices)) return { ok: false, error: UNREAD };
    const content = { drawingRevisionId, ...planContentOf(entry) };
    return mode === "draft" && id !== undefined && seen !== undefined
      ? changePlanDraftAction({ id, seen, ...content })
      : draftPlanAction({ key: entry.key, revision: entry.revision, isNew: mode === "new", ...content });
  };

  const field = (name: "key" | "title" | "revision", locked = false) => (
    <PlanField
      id={`${base}-${name}`}
      label={name}
      value={entry[name]}
      locked={locked}
      problem={problem(name)}
      onChange={(value) => change({ [name]: value })}
    />
  );

  return (
    <form onSubmit={submits(save)} className={styles.editor} noValidate>
      <div className={styles.entries}>
        <SectionHeading>{words.plan}</SectionHeading>
        <div className={styles.fields}>
          {field("key", mode !== "new")}
          {field("title")}
          {field("revision", mode === "draft")}
        </div>

        <SectionHeading aside={words.forRevision(drawing.key, drawing.revision)}>{words.whatIsRead}</SectionHeading>
        <div className={styles.steps}>
          <Button onClick={() => take(fullPlan(drawing).map(formatReadingName))}>{words.fullPlan}</Button>
          <Button onClick={() => take(routinePlan(drawing).map(formatReadingName))}>{words.routinePlan}</Button>
          <Button onClick={() => take(plugsAndBarPlan(drawing).map(formatReadingName))}>{words.plugsAndBars}</Button>
          <Button kind="quiet" onClick={() => take([])}>
            {words.none}
          </Button>
        </div>
        <ReadingChoices drawing={drawing} choices={choices} onChange={choose} />

        <SectionHeading aside={words.readings(entry.order.length)}>{words.orderOfKeying}</SectionHeading>
        <div className={styles.steps}>
          {ORDERS.map(({ value, label }) => (
            <Button key={value} onClick={() => change({ order: inOrder(entry.order, value) })}>
              {label}
            </Button>
          ))}
        </div>
        {problem("readingNames") ? (
          <p className={styles.problem} role="alert">
            {problem("readingNames")}
          </p>
        ) : null}
        <OrderList order={entry.order} at={place} onAt={setAt} onMove={move} />
        <PlanRules entry={entry} others={others} observed={observed} onChange={change} problem={problem} />
      </div>

      <div className={styles.side}>
        <div className={styles.stay}>
          <PlanPreview drawing={drawing} names={names} at={place} onAt={setAt} />
          <SectionHeading>{words.uUnderPlan}</SectionHeading>
          <PlanUncertaintyTable drawing={drawing} names={names} measuring={typedMeasuring(entry)} />
          <ActionAnswer result={result} refused={words.notSaved} unmarked={[]} />
          <Button type="submit" kind="go" wide disabled={!isReady}>
            {words.submit[mode]}
          </Button>
        </div>
      </div>
    </form>
  );
}
