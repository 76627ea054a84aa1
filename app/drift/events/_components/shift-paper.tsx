"use client";

import { useId, useState } from "react";
import { Field } from "@/lib/ui/field";
import { plantMoment } from "@/lib/schemas/plant-day";
import { PaperRequest } from "../../_components/paper-request";
import { PAPER_REQUEST_WORDS } from "../../paper-words";
import shared from "../../drift.module.css";

const words = PAPER_REQUEST_WORDS.shift;

type ShiftPaperProps = Readonly<{ line: string; zone: string; from: string; to: string }>;

/** A stretch of a line's measuring as a document; `from` and `to` are filled in as the plant's clock shows them. */
export function ShiftPaper({ line, zone, from, to }: ShiftPaperProps) {
  const id = useId();
  const [stretch, setStretch] = useState({ from, to });
  const moment = (shown: string) => plantMoment(shown.length === 16 ? `${shown}:00` : shown, zone).toISOString();
  return (
    <div className={shared.form}>
      {(["from", "to"] as const).map((end) => (
        <Field key={end} id={`${id}-${end}`} look="framed" label={words[end]}>
          {(control) => (
            <input
              {...control}
              type="datetime-local"
              value={stretch[end]}
              onChange={(change) => setStretch({ ...stretch, [end]: change.target.value })}
            />
          )}
        </Field>
      ))}
      <PaperRequest
        label={words.ask}
        about={() =>
          stretch.from === "" || stretch.to === ""
            ? null
            : { kind: "shift", line, from: moment(stretch.from), to: moment(stretch.to) }
        }
      />
    </div>
  );
}
