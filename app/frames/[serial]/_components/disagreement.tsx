"use client";

import { useState } from "react";
import { FELT_SIDES, type FeltSide, type FeltSubject } from "@/lib/core/metrology/felt-subject";
import { FELT_SUBJECT_WORDS } from "@/lib/format/felt-words";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { useAction } from "@/lib/ui/use-action";
import { resolveDisagreementAction } from "../../actions";
import { FRAME_WORDS } from "../../words";
import styles from "../frame.module.css";

const words = FRAME_WORDS.disagreement;

type DisagreementProps = Readonly<{
  serial: string;
  contradicting: readonly Readonly<{ of: FeltSubject; labels: readonly string[] }>[];
  inspections: readonly Readonly<{ id: string; label: string; verdict: string }>[];
  mayDecide: boolean;
}>;

/** Where somebody who keyed none of them signs which inspections count, and which side where one contradicts itself. */
export function Disagreement({ serial, contradicting, inspections, mayDecide }: DisagreementProps) {
  const [sides, setSides] = useState<Readonly<Partial<Record<FeltSubject, FeltSide>>>>({});
  const [aside, setAside] = useState<ReadonlySet<string>>(() => new Set());
  const { result, isReady, submits } = useAction<unknown>();

  const toggle = (id: string): void => {
    const next = new Set(aside);
    if (!next.delete(id)) next.add(id);
    setAside(next);
  };

  const sign = (fields: FormData, key: string) =>
    resolveDisagreementAction({
      id: key,
      serial,
      setAside: [...aside],
      sides: contradicting.flatMap(({ of }) => {
        const counts = sides[of];
        return counts === undefined ? [] : [{ of, counts }];
      }),
      ...signatureOf(fields),
    });

  if (!mayDecide) return <p>{words.frameIsHeld}</p>;
  const nothingChosen = aside.size === 0 && Object.keys(sides).length === 0;
  return (
    <form className={`${styles.disagreement} noPrint`} onSubmit={submits(sign)}>
      {contradicting.map(({ of, labels }) => (
        <fieldset key={of}>
          <legend>{words.againstReadings(FELT_SUBJECT_WORDS[of], labels.join(words.and))}</legend>
          {FELT_SIDES.map((side) => (
            <label key={side}>
              <input
                type="radio"
                name={of}
                checked={sides[of] === side}
                onChange={() => setSides({ ...sides, [of]: side })}
              />
              <span>{words.sideWords[side]}</span>
            </label>
          ))}
        </fieldset>
      ))}
      <fieldset hidden={inspections.length < 2}>
        <legend>{words.setAsideWhatDoes}</legend>
        {inspections.map(({ id, label, verdict }) => (
          <label key={id}>
            <input type="checkbox" checked={aside.has(id)} onChange={() => toggle(id)} />
            <span>
              {label} <small>{words.alone(verdict)}</small>
            </span>
          </label>
        ))}
      </fieldset>
      <p>{words.allElseCounts}</p>
      <SignatureFields />
      <Button type="submit" disabled={!isReady || nothingChosen || aside.size === inspections.length}>
        {words.signWhatCounts}
      </Button>
      <ActionAnswer result={result} refused={words.notSigned}>
        {words.signedAndRecordedInJournal}
      </ActionAnswer>
    </form>
  );
}
