"use client";

import { useState, type ReactNode } from "react";
import { Button } from "@/lib/ui/button";
import { Dialog } from "@/lib/ui/dialog";
import { usePlaceKeys } from "./use-place-keys";
import { LINE_PART_WORDS } from "../../words/parts";
import parts from "./parts.module.css";
import dialog from "./reason-dialog.module.css";

const words = LINE_PART_WORDS.reasonDialog;

type ReasonDialogProps = Readonly<{
  title: string;
  children?: ReactNode;
  /** Usual reasons, each with the number key of its place. */
  reasons: readonly string[];
  onReason: (reason: string) => void;
  onClose: () => void;
  /** What to do first, before any reason. */
  first?: { readonly text: string; readonly onPress: () => void };
}>;

/** Asks why: one number key for a usual reason, or words. */
export function ReasonDialog({ title, children, reasons, onReason, onClose, first }: ReasonDialogProps) {
  const [text, setText] = useState("");
  const { burst, onKeyDown } = usePlaceKeys((place) => {
    const reason = reasons[place];
    if (reason !== undefined) onReason(reason);
  });
  return (
    <Dialog open title={title} onClose={onClose}>
      <div onKeyDown={onKeyDown}>
        {children}
        {burst ? (
          <p className={parts.refusal} role="alert">
            {words.whatGaugeOrScannerSent}
          </p>
        ) : null}
        {first === undefined ? null : (
          <div className={dialog.firstKey}>
            <Button kind="go" size="touch" wide autoFocus onClick={first.onPress}>
              {first.text}
            </Button>
          </div>
        )}
        <ul className={dialog.reasons}>
          {reasons.map((reason, index) => (
            <li key={reason}>
              <Button
                size="touch"
                wide
                keyHint={String(index + 1)}
                onClick={() => onReason(reason)}
                autoFocus={index === 0 && first === undefined}
              >
                {reason}
              </Button>
            </li>
          ))}
        </ul>
        <form
          className={dialog.ownReason}
          onSubmit={(event) => {
            event.preventDefault();
            if (text.trim() !== "") onReason(text.trim());
          }}
        >
          <label>
            {words.inOtherWords}
            <input value={text} maxLength={500} onChange={(event) => setText(event.target.value)} />
          </label>
          <Button type="submit" size="touch" disabled={text.trim() === ""}>
            {words.keep}
          </Button>
          <Button size="touch" onClick={onClose}>
            {words.back}
          </Button>
        </form>
      </div>
    </Dialog>
  );
}
