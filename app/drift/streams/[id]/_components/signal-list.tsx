"use client";

import Link from "next/link";
import { useId, useState } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { assignCausesAction } from "../../../actions";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import shared from "../../../drift.module.css";
import styles from "../stream.module.css";

const texts = STREAM_WORDS.signals;

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
          className={shared.form}
          onSubmit={submits(
            (fields) =>
              assignCausesAction({ signalIds: chosen.map((signal) => signal.id), cause: textOf(fields, "cause") }),
            (form) => form.reset(),
          )}
        >
          <Field
            id={`${id}-cause`}
            look="framed"
            label={texts.causeOf(chosen.length === 1 ? texts.chosenSignal : texts.chosenSignals(chosen.length))}
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
            {texts.assignTo(chosen.length)}
          </Button>
        </form>
      ) : null}
      <ActionAnswer result={result} refused={texts.noCauseWasAssigned}>
        {result?.ok ? texts.assignedTo(result.data.signals) : ""}
      </ActionAnswer>
      <ul className={styles.signals}>
        {shown.map((signal) => (
          <li key={signal.id} className={signal.open ? styles.openSignal : undefined}>
            {mayAssign && signal.open ? (
              <input
                type="checkbox"
                checked={!left.has(signal.id)}
                onChange={() => toggle(signal.id)}
                aria-label={texts.atSerial(signal.words, signal.serial)}
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
                {signal.frame === null ? "" : texts.frame(signal.frame)}, {keepWhole(signal.moment)}
              </small>
              {signal.cause === null ? null : (
                <small>
                  {keepWhole(signal.cause)}
                  {signal.assignedBy === null ? "" : ` (${signal.assignedBy})`}
                </small>
              )}
            </span>
          </li>
        ))}
      </ul>
      {signals.length > FIRST_ROWS ? (
        <Button kind="quiet" onClick={() => setAll(!all)}>
          {all ? texts.showNewestOnly : texts.showAll(signals.length)}
        </Button>
      ) : null}
    </div>
  );
}
