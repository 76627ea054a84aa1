"use client";

import { useId, useState, useTransition, type FormEvent, type ReactNode } from "react";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatDirection, formatOclock, formatSeat } from "@/lib/format/clock-text";
import type { ActionError } from "@/lib/schemas/action-result";
import type { DraftPlan } from "@/lib/schemas/setup";
import { readTypedNumber } from "@/lib/schemas/typed-number";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { SectionHeading } from "@/lib/ui/page-frame";
import { changePlanDraftAction, draftPlanAction } from "../../actions";
import { OrderList } from "./order-list";
import { choicesOf, inOrder, readNames, reconcile, SEATS, type KeyingOrder, type PlanChoices } from "./plan-choices";
import { PlanPreview } from "./plan-preview";
import { PlanUncertaintyTable } from "./plan-uncertainty";
import styles from "./plan.module.css";

export type PlanEntry = {
  readonly key: string;
  readonly title: string;
  readonly revision: string;
  readonly order: readonly string[];
  readonly frames: "all" | "every" | "drawn";
  readonly n: string;
  readonly firstOfBatch: boolean;
  readonly size: string;
  readonly firstOff: "none" | "shift" | "event";
  readonly shiftStarts: string;
};

type Mode = "new" | "revision" | "draft";
type PlanEditorProps = Readonly<{
  initial: PlanEntry;
  mode: Mode;
  drawing: ShellDrawing;
  drawingRevisionId: string;
  id?: string;
  seen?: string;
}>;

const DIRECTIONS = Array.from({ length: 12 }, (_, step) => step * 15);
const EIGHTHS = Array.from({ length: 8 }, (_, step) => step * 45);
const ROUND = [...new Set([...EIGHTHS, ...Array.from({ length: 12 }, (_, step) => step * 30)])].sort((a, b) => a - b);
const CLOSED = [...ROUND, 360];
const ORDERS: readonly { readonly value: KeyingOrder; readonly label: string }[] = [
  { value: "direction", label: "all depths at a direction" },
  { value: "depth", label: "all directions at a depth" },
  { value: "sides", label: "sides in turn" },
];
const SUBMIT = { new: "Draft this plan", revision: "Draft this revision", draft: "Save the draft" } as const;

function framesOf(entry: PlanEntry): DraftPlan["frames"] {
  if (entry.frames === "every")
    return { kind: "every", n: readTypedNumber(entry.n) ?? 0, firstOff: entry.firstOfBatch };
  return entry.frames === "drawn" ? { kind: "drawn", size: readTypedNumber(entry.size) ?? 0 } : { kind: "all" };
}

function settingsOf(entry: PlanEntry): NonNullable<DraftPlan["settings"]> {
  if (entry.firstOff === "none") return {};
  if (entry.firstOff === "event") return { firstOff: { each: "event" } };
  const starts = entry.shiftStarts.split(/[;,\s]+/).filter((start) => start !== "");
  return { firstOff: { each: "shift", starts } };
}

/** A set of places round the clock, each to be ticked. */
function Ticks({
  legend,
  values,
  chosen,
  label,
  onChange,
}: Readonly<{
  legend: string;
  values: readonly number[];
  chosen: readonly number[];
  label: (value: number) => string;
  onChange: (chosen: readonly number[]) => void;
}>) {
  const all = [...new Set([...values, ...chosen])].sort((a, b) => a - b);
  return (
    <fieldset className={styles.ticks}>
      <legend>{legend}</legend>
      {all.map((value) => (
        <label key={value}>
          <input
            type="checkbox"
            checked={chosen.includes(value)}
            onChange={() =>
              onChange(
                chosen.includes(value)
                  ? chosen.filter((one) => one !== value)
                  : [...chosen, value].sort((a, b) => a - b),
              )
            }
          />
          {label(value)}
        </label>
      ))}
    </fieldset>
  );
}

const around = (angleDeg: number) => (angleDeg === 360 ? "12 again, closing" : formatOclock(angleDeg));

/** A measuring plan while it is made or changed: what is read, in which order, of which frames. */
export function PlanEditor({ initial, mode, drawing, drawingRevisionId, id, seen }: PlanEditorProps) {
  const base = useId();
  const [entry, setEntry] = useState(initial);
  const [choices, setChoices] = useState(() => choicesOf(readNames(initial.order)));
  const [at, setAt] = useState(0);
  const [error, setError] = useState<ActionError | null>(null);
  const [isPending, startTransition] = useTransition();
  const names = readNames(entry.order);
  const place = Math.max(0, Math.min(at, entry.order.length - 1));
  const problem = (path: string): string | undefined =>
    error?.fields?.find(
      (one) => one.path === path || one.path.startsWith(`${path}.`) || one.path.startsWith(`${path}[`),
    )?.message;

  const change = (part: Partial<PlanEntry>) => {
    setEntry({ ...entry, ...part });
    setError(null);
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

  function handleSubmit(event: FormEvent<HTMLFormElement>) {
    event.preventDefault();
    const form = event.currentTarget;
    const content = {
      title: entry.title,
      drawingRevisionId,
      readingNames: [...entry.order],
      frames: framesOf(entry),
      settings: settingsOf(entry),
    };
    startTransition(async () => {
      const answer =
        mode === "draft" && id !== undefined && seen !== undefined
          ? await changePlanDraftAction({ id, seen, ...content })
          : await draftPlanAction({ key: entry.key, revision: entry.revision, isNew: mode === "new", ...content });
      if (answer.ok) return;
      setError(answer.error);
      requestAnimationFrame(() => form.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
    });
  }

  const field = (
    name: "key" | "title" | "revision" | "n" | "size" | "shiftStarts",
    label: string,
    path: string,
    locked = false,
  ): ReactNode => (
    <div className={styles.field}>
      <label htmlFor={`${base}-${name}`}>{label}</label>
      <input
        id={`${base}-${name}`}
        value={entry[name]}
        readOnly={locked}
        autoComplete="off"
        spellCheck={false}
        aria-invalid={problem(path) !== undefined}
        aria-describedby={`${base}-${name}-note`}
        onChange={(event) => change({ [name]: event.target.value })}
      />
      <span className={styles.problem} id={`${base}-${name}-note`}>
        {problem(path)}
      </span>
    </div>
  );
  const depths = (kind: "bore" | "sweep", seat: Seat) => (
    <div className={styles.field}>
      <label htmlFor={`${base}-${kind}-${seat}`}>depths from the face, mm</label>
      <input
        id={`${base}-${kind}-${seat}`}
        value={choices[kind][seat].depths}
        autoComplete="off"
        placeholder={drawing.fullPlanDepthsMm.join("; ")}
        onChange={(event) =>
          choose({
            ...choices,
            [kind]: { ...choices[kind], [seat]: { ...choices[kind][seat], depths: event.target.value } },
          })
        }
      />
    </div>
  );
  const radio = <T extends string>(name: string, value: T, current: T, label: string, set: (value: T) => void) => (
    <label className={styles.radio}>
      <input type="radio" name={`${base}-${name}`} checked={current === value} onChange={() => set(value)} /> {label}
    </label>
  );

  return (
    <form onSubmit={handleSubmit} className={styles.editor} noValidate>
      <div className={styles.entries}>
        <SectionHeading>Plan</SectionHeading>
        <div className={styles.fields}>
          {field("key", "key", "key", mode !== "new")}
          {field("title", "title", "title")}
          {field("revision", "revision", "revision", mode === "draft")}
        </div>

        <SectionHeading aside={`for ${drawing.key}, revision ${drawing.revision}`}>What is read</SectionHeading>
        <div className={styles.steps}>
          <Button onClick={() => take(fullPlan(drawing).map(formatReadingName))}>Full plan</Button>
          <Button onClick={() => take(routinePlan(drawing).map(formatReadingName))}>Routine plan</Button>
          <Button kind="quiet" onClick={() => take([])}>
            None
          </Button>
        </div>
        {SEATS.map((seat) => (
          <details key={seat} open={seat === "ds"} className={styles.group}>
            <summary>{formatSeat(seat)} seat and face</summary>
            <h3>Diameters</h3>
            {depths("bore", seat)}
            <Ticks
              legend="directions, seen from the drive side"
              values={DIRECTIONS}
              chosen={choices.bore[seat].directions}
              label={(value) => formatDirection(value)}
              onChange={(directions) =>
                choose({ ...choices, bore: { ...choices.bore, [seat]: { ...choices.bore[seat], directions } } })
              }
            />
            <h3>Sweep about the other seat&rsquo;s axis</h3>
            {depths("sweep", seat)}
            <Ticks
              legend="positions"
              values={CLOSED}
              chosen={choices.sweep[seat].angles}
              label={around}
              onChange={(angles) =>
                choose({ ...choices, sweep: { ...choices.sweep, [seat]: { ...choices.sweep[seat], angles } } })
              }
            />
            <h3>Face</h3>
            <Ticks
              legend="positions"
              values={CLOSED}
              chosen={choices.face[seat]}
              label={around}
              onChange={(angles) => choose({ ...choices, face: { ...choices.face, [seat]: angles } })}
            />
          </details>
        ))}
        <details className={styles.group}>
          <summary>Width, plugs and bar</summary>
          <Ticks
            legend="widths at"
            values={EIGHTHS}
            chosen={choices.width}
            label={(value) => formatOclock(value)}
            onChange={(width) => choose({ ...choices, width })}
          />
          <div className={styles.fields}>
            <div className={styles.field}>
              <label htmlFor={`${base}-plugs`}>plug sizes for both seats, mm</label>
              <input
                id={`${base}-plugs`}
                value={choices.plugs}
                placeholder="40.85; 40.95"
                autoComplete="off"
                onChange={(event) => choose({ ...choices, plugs: event.target.value })}
              />
            </div>
            <div className={styles.field}>
              <label htmlFor={`${base}-bars`}>gauge bar sets</label>
              <input
                id={`${base}-bars`}
                value={choices.bars}
                placeholder="A"
                autoComplete="off"
                onChange={(event) => choose({ ...choices, bars: event.target.value })}
              />
            </div>
          </div>
        </details>

        <SectionHeading aside={`${entry.order.length} readings`}>Order of keying</SectionHeading>
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

        <SectionHeading>Which frames</SectionHeading>
        <div className={styles.radios} role="radiogroup" aria-label="Which frames">
          {radio("frames", "all", entry.frames, "every frame", (frames) => change({ frames }))}
          {radio("frames", "every", entry.frames, "every n-th frame", (frames) => change({ frames }))}
          {radio("frames", "drawn", entry.frames, "a sample that the server draws", (frames) => change({ frames }))}
        </div>
        {entry.frames === "every" ? (
          <div className={styles.fields}>
            {field("n", "n", "frames.n")}
            <label className={styles.radio}>
              <input
                type="checkbox"
                checked={entry.firstOfBatch}
                onChange={(event) => change({ firstOfBatch: event.target.checked })}
              />{" "}
              the first of each batch, too
            </label>
          </div>
        ) : null}
        {entry.frames === "drawn" ? (
          <div className={styles.fields}>{field("size", "frames of a batch", "frames.size")}</div>
        ) : null}

        <SectionHeading>First-off release</SectionHeading>
        <div className={styles.radios} role="radiogroup" aria-label="First-off release">
          {radio("off", "none", entry.firstOff, "not asked for", (firstOff) => change({ firstOff }))}
          {radio("off", "shift", entry.firstOff, "at the start of each shift", (firstOff) => change({ firstOff }))}
          {radio("off", "event", entry.firstOff, "after each event on the line", (firstOff) => change({ firstOff }))}
        </div>
        {entry.firstOff === "shift" ? (
          <div className={styles.fields}>
            {field("shiftStarts", "shifts begin at, by the plant's clock", "settings.firstOff.starts")}
          </div>
        ) : null}
      </div>

      <div className={styles.side}>
        <div className={styles.stay}>
          <PlanPreview drawing={drawing} names={names} at={place} onAt={setAt} />
          <SectionHeading>U under this plan</SectionHeading>
          <PlanUncertaintyTable drawing={drawing} names={names} />
          {error ? (
            <ErrorNotice title="Not saved">
              <p>{error.message}</p>
            </ErrorNotice>
          ) : null}
          <Button type="submit" kind="go" wide disabled={isPending}>
            {SUBMIT[mode]}
          </Button>
        </div>
      </div>
    </form>
  );
}
