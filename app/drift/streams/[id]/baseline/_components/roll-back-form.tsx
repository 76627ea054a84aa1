"use client";

import { useId } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { textOf, useAction } from "@/lib/ui/use-action";
import { rollBackBaselineAction } from "../actions";
import { BASELINE_WORDS } from "../words";
import styles from "../baseline.module.css";

const words = BASELINE_WORDS.rollBack;
const wishWords = BASELINE_WORDS.wish;

type Approved = Readonly<{ version: number; frames: number }>;

/** Puts an earlier version in force again, signed. */
export function RollBackForm({
  streamId,
  versionSeen,
  versions,
  open,
}: Readonly<{
  streamId: string;
  versionSeen: number;
  versions: readonly number[];
  open: readonly Readonly<{ id: string; number: number }>[];
}>) {
  const id = useId();
  const { result, isReady, submits } = useAction<Approved>();
  return (
    <form
      className={styles.form}
      onSubmit={submits(
        (fields) =>
          rollBackBaselineAction({
            streamId,
            versionSeen,
            version: Number(textOf(fields, "version")),
            caseId: textOf(fields, "case"),
            ...signatureOf(fields),
          }),
        (form) => form.reset(),
      )}
    >
      <p className={styles.note}>{words.hint}</p>
      <div className={styles.fields}>
        <Field id={`${id}-version`} look="framed" label={words.version}>
          {(control) => (
            <select {...control} name="version" required defaultValue="">
              <option value="">{words.choose}</option>
              {versions.map((version) => (
                <option key={version}>{version}</option>
              ))}
            </select>
          )}
        </Field>
        {open.length === 0 ? null : (
          <Field id={`${id}-case`} look="framed" label={wishWords.because}>
            {(control) => (
              <select {...control} name="case" defaultValue="">
                <option value="">{wishWords.noCase}</option>
                {open.map((one) => (
                  <option key={one.id} value={one.id}>
                    {wishWords.caseNamed(one.number)}
                  </option>
                ))}
              </select>
            )}
          </Field>
        )}
        <SignatureFields />
        <Button type="submit" disabled={!isReady}>
          {words.button}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.refused}>
        {result?.ok ? words.done(result.data.version, result.data.frames) : ""}
      </ActionAnswer>
    </form>
  );
}
