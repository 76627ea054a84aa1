"use client";

import Link from "next/link";
import { useId, useState } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { assignCausesAction } from "../../../actions";
import { keepWhole } from "@/lib/ui/keep-whole";
import styles from "../stream.module.css";

export type SignalRow = Readonly<{
  id: string;
  words: string;
  serial: string;
  frame: number | null;
  moment: string;
  open: boolean;
  cause: string | null;
  assignedBy: string | null;
}>;

/** Rows shown at once; the rest is one press away. */
const FIRST_ROWS = 12;

type SignalListProps = Readonly<{ signals: readonly SignalRow[]; mayAssign: boolean; suggestions: readonly string[] }>;

/** Signals of the frames shown, newest first; an engineer assigns one cause to as many as it explains. */
export function SignalList({ signals, mayAssign, suggestions }: SignalListProps) {
  const open = signals.filter((signal) => signal.open);
  const [left, setLeft] = useState<ReadonlySet<string>>(new Set());
  const [all, setAll] = useState(false);
  const id = useId();
  const { result, isReady, submits } = useAction<{ signals: number }>();
  const chosen = open.filter((signal) => !left.has(signal.id));

  const toggle = (id: string): void => {
    const next = new Set(left);
    if (!next.delete(id)) next.add(id);
    setLeft(next);
  };

  const shown = all ? signals : signals.slice(0, FIRST_ROWS);
  return (
    <div>
      {mayAssign && open.length > 0 ? (
        <form
          className={styles.form}
          onSubmit={submits(
            (fields) =>
              assignCausesAction({ signalIds: chosen.map((signal) => signal.id), cause: textOf(fields, "cause") }),
            (form) => form.reset(),
          )}
        >
          <Field
            id={`${id}-cause`}
            look="framed"
            label={`cause of ${chosen.length === 1 ? "the chosen signal" : `the ${chosen.length} chosen signals`}`}
          >
            {(control) => (
              <input
                {...control}
                name="cause"
                required
                minLength={2}
                maxLength={500}
                autoComplete="off"
                list="likely-causes"
              />
            )}
          </Field>
          <datalist id="likely-causes">
            {suggestions.map((text) => (
              <option key={text} value={text} />
            ))}
          </datalist>
          <Button type="submit" kind="go" disabled={!isReady || chosen.length === 0}>
            Assign to {chosen.length}
          </Button>
        </form>
      ) : null}
      <ActionAnswer result={result} refused="No cause was assigned">
        {result?.ok ? `Assigned to ${result.data.signals}. Their frames are left out of later baselines.` : ""}
      </ActionAnswer>
      <ul className={styles.signals}>
        {shown.map((signal) => (
          <li key={signal.id} className={signal.open ? styles.openSignal : undefined}>
            {mayAssign && signal.open ? (
              <input
                type="checkbox"
                checked={!left.has(signal.id)}
                onChange={() => toggle(signal.id)}
                aria-label={`${signal.words} at ${signal.serial}`}
              />
            ) : (
              <i aria-hidden="true" />
            )}
            <span>
              <b>{signal.words}</b>
              <small>
                <Link className="mono" href={`/frames/${encodeURIComponent(signal.serial)}`}>
                  {signal.serial}
                </Link>
                {signal.frame === null ? "" : `, frame ${signal.frame}`}, {keepWhole(signal.moment)}
              </small>
              {signal.cause === null ? null : (
                <small>
                  {signal.cause}
                  {signal.assignedBy === null ? "" : ` (${signal.assignedBy})`}
                </small>
              )}
            </span>
          </li>
        ))}
      </ul>
      {signals.length > FIRST_ROWS ? (
        <Button kind="quiet" onClick={() => setAll(!all)}>
          {all ? "Show the newest only" : `Show all ${signals.length}`}
        </Button>
      ) : null}
    </div>
  );
}
